// What the zip of CSV files says of itself to the person who opens it.
import { visibleText } from '@guardband/questions/visible-text'
import { counted } from '@guardband/model/figures'
import type { CsvManifest } from './format.ts'

export function csvReadme({ lab, exported, digest, kinds, files }: CsvManifest): string {
  const text = `All records of the workspace "${visibleText(lab.name)}"${lab.simulated ? ' (simulated: no real hardware was measured)' : ''},
exported by Guardband at ${exported}.

runs.csv
  Every run with names instead of ids, a line a measure. For reading and for
  spreadsheets; an import does not look at it.

records/
  One file a kind of record, a line a record:
${kinds.map(({ file, rows }) => `  ${file.padEnd(28)} ${counted(rows, 'record')}`).join('\n')}
  Fields inside fields are columns with dots in their names. Lists stand as JSON
  in one cell. An empty cell is a field that the record does not have.
  Text that begins with = + - @ ' or a tab has one ' before it, so that no
  spreadsheet runs it, and a lone ' is an empty text. Numbers stand as they are.

manifest.json
  Types of the columns, counts, and the content digest:
  ${digest}

Taking it in again:  npx guardband import THIS.zip NEW-FOLDER
  The new workspace has the same records and gives the same answers. An import
  is refused when a record was changed since: the digest then differs.

Not in here: the change log, and the pictures, files, journals and reports that
records name (${counted(files.length, 'file')}). An archive takes those along:
"npx guardband export --as archive".
`
  return text.replaceAll('\n', '\r\n')
}
