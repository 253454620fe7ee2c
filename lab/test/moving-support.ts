// One workspace filled with awkward things and exported once in each form, for tests to copy, damage and take in again.
import { copyFileSync, cpSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import path from 'node:path'
import { Readable } from 'node:stream'
import { afterAll, beforeAll, expect } from 'vitest'
import { ZipFile } from 'yazl'
import type { LabRecord } from '@guardband/model'
import { createLab, importFile, keepStream, type ExportForm, type Imported, type Lab } from '../index.ts'
import { openZip } from '../moving/zip-reader.ts'
import { adding, bench, BY, journalBodies, journalFile, journalIds, reopen, temporaryFolder, testSources, track } from './support.ts'

const answerWorker = new URL('children/answer-worker.ts', import.meta.url)
/** What a spreadsheet would run, a guard, an empty text, line breaks, quotes, other scripts, marks that turn a line around. */
export const AWKWARD = ['=HYPERLINK("http://x")', '+1', '-2', '@sum', "'quoted", '', '\ttab', '\r\ncarriage', 'a,b;c"d"', 'μ 你好 🧪', 'a\u202eb', ' lead', 'trail ', '-5', '1.10', 'true', '{}', '\uff1dwide']

/** One record of many shapes, runs, evidence, a journal, a report; every text field somewhere holds something awkward. */
async function filled(folder = path.join(temporaryFolder(), 'lab')): Promise<{ readonly lab: Lab; readonly digest: string }> {
  const sources = testSources({ answerWorker, renderReport: () => '<h1>report</h1>' })
  const lab = createLab(folder, { name: 'Hollin & Pike', currency: 'EUR', simulated: true }, sources)
  track(lab)
  const world = bench(sources)
  const id = sources.newId
  const noted: LabRecord[] = AWKWARD.map((note) => ({ kind: 'rig', id: id(), name: 'south bench', note }))
  const more: LabRecord[] = [
    ...noted,
    { kind: 'tune', id: id(), name: '=1+1', settings: [{ key: 'curve', scope: { level: 'core', index: '3' }, asked: { shape: 'curve', points: [[0.7, -12.5], [1.2, 1e-7]], unit: 'V' } }] },
    { kind: 'setting kind', id: id(), name: 'core voltage', shape: 'scalar', unit: '', level: 'package', step: 0.005, usualLow: -0.2 },
    { kind: 'dose', id: id(), sampleId: world.a1.id, at: '2026-11-05T08:00:00+01:00', setting: 'core voltage', volts: 1.35, temperature: -40.5, hours: 1e-3, known: 'measured' },
    { kind: 'ceiling', id: id(), name: 'core voltage', settings: ['core voltage'], unit: 'V', highest: 1.4, lowestTemperature: -50 },
  ]
  lab.apply({ ...BY, items: adding(...world.records, ...more, ...world.start(world.seats[0], world.t65, [40, 41.25], { conditions: {} }), ...world.start(world.seats[2], world.t65, [38])) })
  await lab.evidence.keep({ request: id(), who: '=Ada', name: 'paste.jpg', mediaType: 'image/jpeg', about: [world.a1.id], thumbnailBytes: 3, limit: 1000, pieces: Readable.from([Buffer.from([0xff, 0xd8, 0xff]), Buffer.from('the picture')]) })
  lab.intakeJournal({ bytes: journalFile(journalBodies(journalIds(id))).bytes, file: 'x', who: 'north bench' })
  const question = lab.ask({ title: 'plain', ask: { kind: 'gain', about: world.about() } }, BY)
  await lab.publish({ title: 'First', questionIds: [question], who: 'Ada Hollin' })
  expect(lab.check()).toEqual([])
  return { lab, digest: lab.moving.digest() }
}

/** Filled and exported once: making it takes longer than most tests of it. */
const sharedFolder = mkdtempSync(path.join(tmpdir(), 'guardband-moving-'))
export let shared: { readonly digest: string; readonly folder: string }
beforeAll(async () => {
  const { lab, digest } = await filled(path.join(sharedFolder, 'lab'))
  for (const form of ['json', 'csv', 'archive'] as const) await keepStream(await lab.moving.export(form), path.join(sharedFolder, form))
  await lab.close()
  shared = { digest, folder: lab.folder }
})
afterAll(() => rmSync(sharedFolder, { recursive: true, force: true }))

/** A copy of the shared workspace, which a test may write to. */
export function copied(): { readonly lab: Lab; readonly digest: string } {
  const folder = path.join(temporaryFolder(), 'lab')
  cpSync(shared.folder, folder, { recursive: true })
  return { lab: opened(folder), digest: shared.digest }
}

/** A copy of an export of the shared workspace, which a test may damage. */
export function exported(form: ExportForm): string {
  const file = path.join(temporaryFolder(), `lab.${form === 'json' ? 'json' : 'zip'}`)
  copyFileSync(path.join(sharedFolder, form), file)
  return file
}

export function taken(file: string, into = path.join(temporaryFolder(), 'lab')): Promise<Imported> {
  return importFile({ file, shown: 'it', into, who: 'Ada Hollin' }, testSources({}, 5))
}

export function opened(folder: string): Lab {
  return track(reopen(folder))
}

/** A zip of the same entries with some changed, left out (null) or added. */
export async function rezipped(file: string, change: Readonly<Record<string, ((text: string) => string) | null>>, added: Readonly<Record<string, string>> = {}): Promise<string> {
  const from = await openZip(file, 'from', { entries: 100 })
  const zip = new ZipFile()
  for (const name of from.names) {
    const bytes: Uint8Array[] = []
    for await (const piece of from.read(name)) bytes.push(piece)
    const edit = change[name]
    if (edit === null) continue
    zip.addBuffer(edit === undefined ? Buffer.concat(bytes) : Buffer.from(edit(Buffer.concat(bytes).toString('utf8'))), name)
  }
  for (const [name, text] of Object.entries(added)) zip.addBuffer(Buffer.from(text), name)
  zip.end()
  from.close()
  const to = path.join(temporaryFolder(), 'changed.zip')
  await keepStream(Readable.from(zip.outputStream), to)
  return to
}
