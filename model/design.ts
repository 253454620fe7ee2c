// Unfolds a plan's design into steps so that neither tune always comes first: a block holds each tune once, and every second block runs backwards.
import type { Design, Step } from './plan.ts'

/**
 * Steps of a design: `startsPerTune` blocks, each with one change per tune followed by `repeats` runs of each workload. Reversing every
 * second block cancels a linear drift over each pair of blocks (Draper & Stoneman 1968).
 */
export function expandDesign(design: Design): readonly Step[] {
  const steps: Step[] = []
  for (let block = 0; block < design.startsPerTune; block++) {
    const tunes = block % 2 === 0 ? design.tunes : design.tunes.toReversed()
    for (const tune of tunes) {
      const tuneNumber = design.tunes.indexOf(tune) + 1
      const prefix = `b${block + 1}.t${tuneNumber}`
      steps.push({ id: prefix, kind: 'change', tune, start: design.start })
      for (let repeat = 0; repeat < design.repeats; repeat++) {
        design.workloads.forEach((workload, index) => steps.push({ id: `${prefix}.w${index + 1}.r${repeat + 1}`, kind: 'run', workload }))
      }
    }
  }
  return steps
}
