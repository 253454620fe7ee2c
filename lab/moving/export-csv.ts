// All records as one zip of CSV files, one a kind, with what an import needs to give every field its type back.
import { Readable } from 'node:stream'
import type { RecordKind } from '@guardband/model'
import { parseBody } from '../store/record-store.ts'
import { BYTE_ORDER_MARK, csvLine } from './csv-lines.ts'
import { digestOfBodies } from './content-digest.ts'
import { cellText, leavesOf, typeOf } from './flat-record.ts'
import { fileOfKind, KINDS, MANIFEST, MOVING_FORMAT, type Column, type CsvManifest, type KindFile } from './format.ts'
import type { LabReader } from './lab-reader.ts'
import { longRunLines } from './long-runs.ts'
import { csvReadme } from './readme-text.ts'
import { inPieces } from './text-pieces.ts'
import { zipStream, type ZipEntry } from './zip-writer.ts'

/** The reader is closed when the stream is over. */
export function csvZip(reader: LabReader, exported: string): Readable {
  return zipStream(entries(reader, exported), { at: new Date(exported), done: reader.close })
}

function* entries(reader: LabReader, exported: string): Generator<ZipEntry> {
  const kinds = KINDS.flatMap((kind) => kindFile(reader, kind) ?? [])
  const manifest: CsvManifest = {
    guardband: 'records as csv', format: MOVING_FORMAT, exported, lab: { name: reader.lab.name, simulated: reader.lab.simulated }, digest: reader.digest, kinds, files: [...reader.files()],
  }
  yield textEntry('README.txt', [csvReadme(manifest)])
  yield textEntry(MANIFEST, [`${JSON.stringify(manifest, undefined, 1)}\n`])
  yield textEntry('runs.csv', longRunLines(reader))
  for (const file of kinds) yield textEntry(file.file, kindLines(reader, file))
}

function textEntry(path: string, lines: Iterable<string>): ZipEntry {
  return { path, pack: 'pack', open: () => Readable.from(inPieces(lines), { objectMode: false }) }
}

/** Undefined when there is no record of the kind. */
function kindFile(reader: LabReader, kind: RecordKind): KindFile | undefined {
  const types = new Map<string, Column['as']>()
  let rows = 0
  for (const body of reader.bodies(kind)) {
    rows += 1
    for (const [path, leaf] of leavesOf(parseBody(body))) {
      const as = typeOf(leaf)
      const before = types.get(path)
      if (before !== as) types.set(path, before === undefined ? as : 'json')
    }
  }
  if (rows === 0) return undefined
  const columns = [...types].map(([name, as]) => ({ name, as })).toSorted((a, b) => placeOf(a.name) - placeOf(b.name) || (a.name < b.name ? -1 : 1))
  return { kind, file: fileOfKind(kind), rows, digest: digestOfBodies(reader.bodies(kind)), columns }
}

function* kindLines(reader: LabReader, { kind, columns }: KindFile): Generator<string> {
  yield BYTE_ORDER_MARK + csvLine(columns.map(({ name }) => name))
  for (const body of reader.bodies(kind)) {
    const leaves = new Map(leavesOf(parseBody(body)))
    yield csvLine(columns.map(({ name, as }) => cellText(leaves.get(name), as)))
  }
}

/** What says which record it is comes first, what somebody noted last. */
function placeOf(column: string): number {
  const first = FIRST.indexOf(column)
  if (first >= 0) return first - FIRST.length
  return column === 'note' ? 1 : 0
}

const FIRST = ['id', 'number', 'name', 'label', 'title']
