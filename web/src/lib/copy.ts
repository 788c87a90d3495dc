// copyText puts a text into the clipboard, also where the page came over plain
// http and the browser offers no clipboard of its own.
export async function copyText(text: string): Promise<boolean> {
  try {
    await navigator.clipboard.writeText(text);
    return true;
  } catch {
    return byHand(text);
  }
}

function byHand(text: string): boolean {
  const field = document.createElement("textarea"), before = document.activeElement as HTMLElement | null;
  field.value = text;
  field.readOnly = true;
  field.style.position = "fixed";
  field.style.opacity = "0";
  document.body.append(field);
  field.select();
  try {
    return document.execCommand("copy");
  } catch {
    return false;
  } finally {
    field.remove();
    before?.focus({ preventScroll: true });
  }
}

// tableText is a table as spreadsheets take it: a line a row, a tab between
// cells, as it stands on the page.
export function tableText(table: HTMLTableElement): string {
  return [...table.rows].map((row) => [...row.cells].map(cellText).join("\t")).join("\n");
}

// cellText keeps a cell on its line, and a spreadsheet from running a text as a
// formula; a number with its sign stays a number.
function cellText(cell: HTMLTableCellElement): string {
  const field = cell.querySelector("input"), text = (field ? field.value || field.placeholder : cell.innerText).replace(/\s+/g, " ").trim();
  return /^[=+\-@＝＋－＠]/.test(text) && !/^[+\-]?[\d.,]+[\p{L}\d\s.,%°²·/…±–]*$/u.test(text) ? `'${text}` : text;
}
