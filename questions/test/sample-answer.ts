// A Gain answer of the invented lab, written by hand (simulated), for tests of what is drawn and told; its figures come from no computation.
import { answerSchema, type Answer, type AnswerScope, type Estimate, type Verdict } from '@guardband/model'

export const verdicts = {
  faster: { code: 'faster', words: 'Faster', tone: 'up' },
  slower: { code: 'slower', words: 'Slower', tone: 'down' },
  same: { code: 'same', words: 'No difference that matters', tone: 'same' },
  open: { code: 'open', words: "Can't tell yet", tone: 'open' },
  unfair: { code: 'unfair', words: 'Not a fair comparison', tone: 'stop' },
} as const satisfies Record<string, Verdict>

export function makeEstimate(parts: Partial<Estimate> & Pick<Estimate, 'key' | 'label'>): Estimate {
  return {
    role: 'workload',
    scope: 'these samples',
    value: 1.5,
    low: 1.1,
    high: 1.9,
    confidence: 0.95,
    unit: '%',
    bandLow: -1,
    bandHigh: 1,
    computed: null,
    verdict: verdicts.faster,
    samples: [2, 2],
    starts: [6, 6],
    runs: [30, 30],
    failed: [0, 0],
    ...parts,
  }
}

const these: AnswerScope = 'these samples'
const alike: AnswerScope = 'samples like these'

function rows(scope: AnswerScope): readonly Estimate[] {
  const wider = scope === alike ? 2.2 : 1
  const row = (key: string, label: string, group: string, value: number, half: number, verdict: Verdict) =>
    makeEstimate({ key: `workload:${key}`, label, group, scope, value, low: value - half * wider, high: value + half * wider, verdict })
  return [
    row('w1', 'tile render, all cores', 'Many cores', 2.9, 0.7, verdicts.faster),
    row('w2', 'code build', 'Many cores', 2.1, 1, verdicts.faster),
    row('w3', 'archive pack', 'Many cores', 0.4, 0.7, verdicts.open),
    row('w4', 'audio bounce, one core', 'Few cores', 3.4, 0.5, verdicts.faster),
    row('w5', 'photo stack', 'Few cores', -1.9, 0.6, verdicts.slower),
    row('w6', 'map scene, low resolution', 'Few cores', 0.2, 0.5, verdicts.same),
    makeEstimate({ key: 'group:Many cores', role: 'group', label: 'Many cores', scope, value: 1.8, low: 1.8 - 0.6 * wider, high: 1.8 + 0.6 * wider, verdict: verdicts.faster }),
    makeEstimate({ key: 'group:Few cores', role: 'group', label: 'Few cores', scope, value: 0.6, low: 0.6 - 0.5 * wider, high: 0.6 + 0.5 * wider, verdict: verdicts.open }),
    makeEstimate({ key: 'overall', role: 'overall', label: 'Overall (weighted)', scope, value: 1.8, low: 1.8 - 0.5 * wider, high: 1.8 + 0.5 * wider, verdict: verdicts.faster }),
  ]
}

export const sampleAnswer: Answer = answerSchema.parse({
  schema: 1,
  kind: 'gain',
  revision: 1,
  question: { id: '0198a6f0-0000-7000-8000-000000000001', title: 'Is the 14R worth it?' },
  lab: 'Hollin & Pike',
  simulated: true,
  snapshotDigest: 'b0a7'.repeat(16),
  status: 'computed',
  sides: ['Quillon 14', 'Quillon 14R'],
  scope: these,
  views: [
    {
      scope: these,
      headline: [{ text: 'Quillon 14R is ' }, { text: 'faster', verdict: true }, { text: ' than Quillon 14: 1.8 % overall, between 1.3 and 2.3 %.' }],
      verdict: verdicts.faster,
    },
    {
      scope: alike,
      headline: [{ text: 'Of samples like these ' }, { text: "we can't tell yet", verdict: true }, { text: ' whether Quillon 14R is faster than Quillon 14: 1.8 % overall, between 0.7 and 2.9 %.' }],
      verdict: verdicts.open,
    },
  ],
  estimates: [...rows(these), ...rows(alike)],
  basis: { samples: [2, 2], starts: [6, 6], runs: 384, failed: 6, setAside: 0, sentence: '2 + 2 samples, chosen · 1 board · 1 kit · 12 starts · 384 runs, 6 failed' },
  cautions: [
    { code: 'chosen-samples', severity: 'warns', title: 'Samples were chosen', text: 'Both Quillon 14R came from one press delivery. Others of their kind may differ.', records: [] },
    { code: 'one-board', severity: 'notes', title: 'One board', text: 'Every run sat on the same Cairn M2.', records: [] },
  ],
  settle: {
    sentence: '“archive pack” needs 2 more starts a side: 14 hand-minutes, 38 machine-minutes.',
    items: [{ what: 'starts a side', count: 2, hand: 14, machine: 38 }],
    hand: 14,
    machine: 38,
    runs: 20,
  },
  sections: [{ code: 'worth', title: 'Worth it?', sentences: ['Quillon 14R costs 74 more. It pays from 41 per percent on.', 'At your 30 per percent the chance that it pays is 8 %.'] }],
  methods: [
    { text: 'Start × workload means of log scores; sample, sample × side and start as random.', source: 'JCGM 100:2008, 7.2.6' },
    { text: 'The interval is a t interval on start means.' },
  ],
  band: 'Bars are 95 % intervals; the band is a gain too small to matter (under 1 %, fixed 3 November).',
})

/** The sample with other estimates in the headline scope. */
export function withEstimates(estimates: readonly Estimate[]): Answer {
  return { ...sampleAnswer, estimates: [...estimates] }
}
