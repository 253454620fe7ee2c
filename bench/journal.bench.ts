// The runner killed at 1,000 random moments, and its journals cut at every byte: how many acknowledged or finished runs were lost or carried out again.
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { basename, join } from 'node:path'
import { planHash } from '@guardband/model'
import { createPlanSource, journalFolderOf, readPlan, type JournalDisk } from '@guardband/rig'
import { readJournalFolder } from '@guardband/rig/journal-folder'
import { killRigs } from '@guardband/rig/test/killed-rig'
import { seededNumbers } from '@guardband/rig/test/seeded-numbers'
import type { Bench } from './bench.ts'

const KILLS = 1000
const SEED = 20_261_101

export const bench: Bench = {
  name: 'journal',
  what: `the runner killed with SIGKILL at ${KILLS} random moments (another number by argument), and a plan's journals cut at every byte: runs lost or repeated`,
  run: async (args, print) => {
    const kills = Number(args[0] ?? KILLS)
    const root = mkdtempSync(join(tmpdir(), 'guardband-journal-'))
    try {
      let told = 0
      const killed = await killRigs({
        root, kills, random: seededNumbers(SEED, 'kills'),
        progress: (count) => {
          if (count < told + 50) return
          told = count
          print(`${count} kills`)
        },
      })
      for (const fault of killed.faults.slice(0, 20)) print(fault)
      print(`${killed.kills} kills over ${killed.folders.length} plans: ${killed.acknowledged} runs acknowledged, ${killed.resolved} closed as cut short, ${killed.faults.length} faults`)
      const cut = await cutEverywhere(killed.folders[0] ?? root)
      print(`${cut.cuts} cuts in ${cut.files} journals: ${cut.faults} faults`)
      const value = killed.faults.length + cut.faults
      // A bench whose kills fell into no run would find nothing.
      const sound = killed.kills >= kills && killed.resolved > kills / 20 && cut.cuts > 1000
      return { value, reference: 0, ratio: value, bar: 'nothing lost, nothing repeated', pass: sound && value === 0, detail: { kills: killed.kills, acknowledged: killed.acknowledged, resolved: killed.resolved, cuts: cut.cuts, faults: killed.faults.slice(0, 20) } }
    } finally {
      rmSync(root, { recursive: true, force: true })
    }
  },
}

/** Each journal of the plan's last file order cut at every byte, those before it whole: what was whole before the cut is read, and none of it is to be done again. */
async function cutEverywhere(folder: string): Promise<{ readonly files: number; readonly cuts: number; readonly faults: number }> {
  const journals = journalFolderOf(join(folder, 'rig'))
  const plan = readPlan(readFileSync(join(folder, 'plan.json'), 'utf8'), 'plan.json')
  const names = readdirSync(journals).toSorted()
  const bytes = new Map(names.map((name) => [name, readFileSync(join(journals, name))]))
  // The longest chain of them would take hours: the last ones have everything that the first have.
  const last = names[names.length - 1]
  const whole = bytes.get(last) ?? Buffer.alloc(0)
  const before = new Map([...bytes].filter(([name]) => name !== last).slice(-MOST_BEFORE))
  let faults = 0
  for (let length = 0; length <= whole.length; length++) {
    const files = new Map([...before, [last, whole.subarray(0, length)]])
    const reading = await readJournalFolder(diskOf(files), journals, planHash(plan))
    const left = new Set(createPlanSource(plan).remaining(reading).map(({ id }) => id))
    const lines = whole.subarray(0, length).toString('latin1').split('\n').slice(0, -1)
    const read = reading.journals.find(({ path }) => basename(path) === last)?.entries.length ?? 0
    if (read !== lines.length) faults += 1
    for (const line of lines) {
      const { type, step = '', outcome = '' } = JSON.parse(Buffer.from(line.slice(line.indexOf('{')), 'latin1').toString()) as { readonly type: string; readonly step?: string; readonly outcome?: string }
      if ((type === 'end' || type === 'done' || type === 'resolved') && outcome !== 'stopped by a person' && left.has(step)) faults += 1
    }
  }
  return { files: before.size + 1, cuts: whole.length + 1, faults }
}

const MOST_BEFORE = 2

async function none(): Promise<never> {
  throw new Error('this disk is only read')
}

function diskOf(files: ReadonlyMap<string, Uint8Array>): JournalDisk {
  return { makeFolder: none, list: async () => [...files.keys()].toSorted(), read: async (path) => files.get(basename(path)) ?? new Uint8Array(), create: none, settle: none, freeBytes: none }
}
