// Tables as CSV that a spreadsheet opens without running anything that stands in a name.

/** Lines end in CRLF (RFC 4180); a text that a spreadsheet would take for a formula gets an apostrophe before it. */
export function csvText(rows: readonly (readonly (string | number | null)[])[]): string {
  return rows.map((row) => row.map(cellText).join(',')).join('\r\n') + '\r\n'
}

function cellText(cell: string | number | null): string {
  if (cell === null) return ''
  if (typeof cell === 'number') return String(cell)
  const guarded = FORMULA_START.test(cell) ? `'${cell}` : cell
  return /[",\r\n]/.test(guarded) ? `"${guarded.replaceAll('"', '""')}"` : guarded
}

/** Also after white space and in the full-width forms that some programs treat alike. */
const FORMULA_START = /^[\s]*[=+\-@\t\r\u2212\uff1d\uff0b\uff0d\uff20]/
