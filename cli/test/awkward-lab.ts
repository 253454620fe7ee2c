// Answers that are awkward to show: parts under unlike firmware, one start a side, nothing that scored, a price, and names that look like markup.
import type { Lab } from '@guardband/lab'
import type { GainAbout } from '@guardband/model'

const HEADER = 'part,sample,picked,tune,rig,start,how,order,firmware,system,workload,group,measure,unit,direction,value,outcome'

/** Takes the runs in and asks; gives the same lab back. */
export function fillAwkward(lab: Lab): Lab {
  const reply = lab.intakeRuns({ text: `${[HEADER, ...rows()].join('\n')}\n`, file: 'awkward.csv', who: 'Ada', only: 'take' })
  if (reply.problemCount > 0) throw new Error(`the file must be sound; got ${reply.problems.map(({ sentence }) => sentence).join(' ')}`)
  const tune = (name: string): string => idOf(lab.list('tune'), name)
  const part = (name: string): string => idOf(lab.list('part'), name)
  const [suite] = lab.list('suite')
  const ask = (about: Pick<GainAbout, 'a' | 'b' | 'money'>): string =>
    lab.ask({ ask: { kind: 'gain', about: { suiteId: suite.id, slot: 'processor', smallestGain: { percent: 1, fixedAt: '2026-11-01T08:00:00Z' }, ...about } } }, { who: 'Ada' })
  ask({ a: { tuneId: tune('as delivered') }, b: { tuneId: tune(MARKUP) } })
  ask({ a: { partId: part('Quillon 14'), tuneId: tune('as delivered') }, b: { partId: part('Quillon 14R'), tuneId: tune('as delivered') } })
  ask({ a: { partId: part('Quillon 14S'), tuneId: tune('as delivered') }, b: { partId: part('Quillon 14S'), tuneId: tune('once') } })
  ask({ a: { tuneId: tune('as delivered') }, b: { tuneId: tune('too far') } })
  return lab
}

const MARKUP = '<b>95 W</b> & "quiet"'

function rows(): readonly string[] {
  const found: string[] = []
  let order = 0
  let starts = 0
  const start = (sample: string, tune: string, firmware: string, factor: number, outcome = 'scored'): void => {
    const part = sample.startsWith('QR') ? 'Quillon 14R' : sample.startsWith('QS') ? 'Quillon 14S' : 'Quillon 14'
    const picked = sample.startsWith('QR') ? 'chosen' : 'at random'
    starts += 1
    for (const { workload, group, unit, direction, value } of WORKLOADS) {
      for (let repeat = 0; repeat < 2; repeat++) {
        order += 1
        const wobble = 1 + WOBBLE[(3 * starts + 5 * repeat + workload.length) % WOBBLE.length]
        const scored = (direction === 'higher is better' ? value * factor : value / factor) * wobble
        const failed = outcome !== 'scored' || (tune === MARKUP && workload === 'map scene' && repeat === 1)
        found.push([
          part, sample, picked, quoted(tune), 'north bench', `s${starts}`, 'cold', order, firmware, 'image 7', quoted(workload), group, 'score', unit, direction,
          failed ? '' : scored.toFixed(3), failed && outcome === 'scored' ? 'machine reset' : outcome,
        ].join(','))
      }
    }
  }
  for (let block = 0; block < 3; block++) {
    for (const sample of ['Q1', 'Q2', 'Q3']) {
      start(sample, 'as delivered', 'f10', 1)
      start(sample, MARKUP, 'f10', 1.03)
    }
    for (const sample of ['QR1', 'QR2']) start(sample, 'as delivered', 'f11', 1.08)
  }
  start('QS1', 'as delivered', 'f10', 1)
  start('QS1', 'once', 'f10', 1.2)
  for (const sample of ['Q1', 'Q2']) start(sample, 'too far', 'f10', 1, 'machine reset')
  return found
}

const WORKLOADS = [
  { workload: 'code build', group: 'many cores', unit: 'points', direction: 'higher is better', value: 1800 },
  { workload: 'tile, "quoted" <i>render</i>', group: 'many cores', unit: 's', direction: 'lower is better', value: 64 },
  { workload: 'map scene', group: 'frames', unit: 'fps', direction: 'higher is better', value: 140 },
]

/** Made up by hand: what each run adds to its score. */
const WOBBLE = [0.004, -0.002, 0.001, -0.005, 0.003, 0, -0.001, 0.006, -0.004, 0.002, -0.003]

function quoted(text: string): string {
  return `"${text.replaceAll('"', '""')}"`
}

function idOf(records: readonly { readonly id: string; readonly name: string }[], name: string): string {
  const found = records.find((record) => record.name === name)
  if (found === undefined) throw new Error(`there must be a record called ${name}`)
  return found.id
}
