// One step of the moving bench in a process of its own, so that its peak memory is its own: says seconds and megabytes as one line of JSON.
import { readFileSync } from 'node:fs'
import { importFile, keepStream, openLab, type ExportForm } from '@guardband/lab'
import { createIdFactory } from '@guardband/model'

const [step, from, to] = process.argv.slice(2)
const fillRandom = (bytes: Uint8Array<ArrayBuffer>): void => void crypto.getRandomValues(bytes)
const sources = { now: () => Date.now(), newId: createIdFactory({ now: () => Date.now(), fillRandom }) }
const began = performance.now()
await run()
const seconds = (performance.now() - began) / 1000
// In kilobytes on every system that Node runs on.
process.stdout.write(`${JSON.stringify({ seconds, megabytes: process.resourceUsage().maxRSS / 1024 })}\n`)

async function run(): Promise<void> {
  if (step === 'import') return void (await importFile({ file: from, into: to, who: 'bench' }, sources))
  // The reference for an import: every record of the export read by the engine's own parser, and nothing done with it.
  if (step === 'parse') return void readFileSync(from, 'utf8').split('\n').slice(1).filter((line) => line.startsWith('{')).map((line) => JSON.parse(line.replace(/,$/, '')) as unknown)
  const lab = openLab(from, sources)
  try {
    if (step === 'backup') await lab.moving.backup(to)
    else await keepStream(await lab.moving.export(step as ExportForm), to)
  } finally {
    await lab.close()
  }
}
