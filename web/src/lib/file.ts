// saveFile gives a value to be kept as a JSON file on this device.
export function saveFile(name: string, value: unknown): void {
  save(`${name.trim().replaceAll(/[^\p{L}\p{N}]+/gu, "-").toLowerCase() || "tautline"}.json`, new Blob([JSON.stringify(value, null, 2) + "\n"], { type: "application/json" }));
}

// saveText gives a text to be kept as a file of that name.
export function saveText(name: string, text: string): void {
  save(name, new Blob([text], { type: "text/plain" }));
}

function save(name: string, what: Blob): void {
  const url = URL.createObjectURL(what), link = document.createElement("a");
  link.href = url;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), 1000);
}
