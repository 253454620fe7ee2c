// How a Gain answer was computed, in sentences with their sources, for the margin of every surface.
import { counted, type Answer } from '@guardband/model'
import type { Selection } from './selection.ts'

export function methods(parts: { readonly selection: Selection; readonly holes: boolean; readonly drift: 'taken out' | 'left'; readonly pooled: boolean; readonly rounding: boolean }): Answer['methods'] {
  const { selection } = parts
  const list: Answer['methods'] = [
    { text: 'Each start gives one number a workload: the mean of its log scores. Repeats within a start are not independent evidence.', source: 'Kalibera & Jones, ISMM 2013' },
    { text: 'Overall and groups are weighted means over workloads for each start, so any tie between workloads is counted as it is. Ratios are geometric means.', source: 'Fleming & Wallace, CACM 29 (1986) 218' },
    { text: 'These samples: samples fixed, error from starts, a variance for each side.', source: 'Welch, Biometrika 34 (1947) 28; Satterthwaite, Biometrics Bulletin 2 (1946) 110' },
    ...(selection.samples.some((side) => side.length < 2) ? [] : [selection.pairing === 'same'
      ? { text: `Samples like these: t on each sample's own difference, ${counted(selection.samples[0].length - 1, 'degree')} of freedom.`, source: 'Student, Biometrika 6 (1908) 1' }
      : { text: 'Samples like these: Welch on sample means; where a side has two samples the variance is pooled.', source: 'Welch, Biometrika 34 (1947) 28' }]),
  ]
  if (parts.holes) list.push({ text: 'Some starts lack a workload: a common start shift is fitted by restricted maximum likelihood; on complete starts it equals the simple form.', source: 'Patterson & Thompson, Biometrika 58 (1971) 545' })
  if (parts.drift === 'taken out') list.push({ text: 'A straight line over time is taken out where it shows, where the sides took turns so that it costs next to nothing, and where one side ran later than the other, so that drift could pass for gain; it takes one degree of freedom.', source: 'Cox & Reid, The Theory of the Design of Experiments, 2000' })
  if (parts.pooled) list.push({ text: 'Too few starts or samples for a variance a side: one variance is pooled over both.' })
  if (parts.rounding) list.push({ text: 'Where the instrument’s step hides the scatter, the mean of a sample on a side keeps at least the variance of rounding, step²/12.', source: 'JCGM 100:2008, F.2.2.1' })
  list.push({ text: 'One 95 % interval serves picture, table, sentence and verdict.' })
  return list
}
