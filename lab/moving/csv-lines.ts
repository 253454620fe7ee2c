// Rows of cells as RFC 4180 text: commas, doubled quotes, CR LF, and a byte order mark so that spreadsheets read it as UTF-8.

export function csvLine(cells: readonly string[]): string {
  return `${cells.map((cell) => (QUOTED.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell)).join(',')}\r\n`
}

export const BYTE_ORDER_MARK = '\ufeff'

/** Semicolons too: some spreadsheets part columns at them. */
const QUOTED = /[",;\t\r\n]|^\s|\s$/
