// saveFile gives a value to be kept as a JSON file on this device.
export function saveFile(name: string, value: unknown): void {
  const url = URL.createObjectURL(new Blob([JSON.stringify(value, null, 2) + "\n"], { type: "application/json" }));
  const link = document.createElement("a");
  link.href = url;
  link.download = `${name.trim().replaceAll(/[^\p{L}\p{N}]+/gu, "-").toLowerCase() || "tautline"}.json`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), 1000);
}
