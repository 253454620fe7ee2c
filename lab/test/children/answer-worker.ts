// An answer worker for tests of the desk: it computes a small true answer, counts its work, loops for ever, or fails, as the question's title asks.
import { setTimeout as wait } from 'node:timers/promises'
import { SpokenError, type Answer } from '@guardband/model'
import { GAIN_REVISION } from '@guardband/questions/gain/revision'
import { workerReply, type WorkerReply, type WorkerTask } from '../../answers/worker-reply.ts'

export default function answer(task: WorkerTask): Promise<WorkerReply> {
  return workerReply(() => compute(task))
}

async function compute({ snapshot, digest, progress }: WorkerTask): Promise<Answer> {
  const { title } = snapshot.question
  if (title === 'endless') for (;;);
  if (title === 'slow') await wait(300)
  if (title === 'in steps') {
    // A message port has no origin to name.
    // oxlint-disable-next-line unicorn/require-post-message-target-origin
    for (const done of [0.25, 0.75]) progress.postMessage(done)
    for (;;) await wait(60_000)
  }
  if (title === 'fails') throw new SpokenError({ code: 'too-odd', place: 'tile render', message: 'this data is too odd.', mend: 'Look at it.' })
  if (title === 'breaks') throw new TypeError('undefined is not a function')
  const verdict = { code: 'open', words: 'Can’t tell yet', tone: 'open' as const }
  const value = title === 'not a number' ? Number.NaN : snapshot.runs.value.length
  return {
    schema: 1,
    kind: 'gain',
    revision: GAIN_REVISION,
    question: snapshot.question,
    lab: snapshot.lab.name,
    simulated: snapshot.lab.simulated,
    snapshotDigest: title === 'another digest' ? 'f'.repeat(64) : digest,
    status: 'computed',
    sides: [snapshot.sides[0].label, snapshot.sides[1].label],
    scope: 'these samples',
    views: [{ scope: 'these samples', headline: [{ text: `${value} runs` }], verdict }],
    estimates: [],
    basis: { samples: [1, 1], starts: [1, 1], runs: value, failed: 0, setAside: 0, sentence: `${value} runs` },
    cautions: [],
    settle: null,
    sections: [],
    methods: [],
    band: '',
  }
}
