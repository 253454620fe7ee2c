// Runs in a worker thread: computes the answer of one snapshot. The question's code is loaded at the first job and stays.
import { SpokenError, type Answer, type Snapshot } from '@guardband/model'
import { workerReply, type WorkerReply } from './answers/worker-reply.ts'

interface GainModule {
  readonly compute: (snapshot: Snapshot) => Answer
}

export default function computeAnswer(snapshot: Snapshot): Promise<WorkerReply> {
  return workerReply(async () => (await load()).compute(snapshot))
}

let loaded: Promise<GainModule> | undefined

function load(): Promise<GainModule> {
  loaded ??= import(MODULE).then(
    // The import map of the package exports it; its shape is checked here because a worker has no caller that would.
    (module: Partial<GainModule>) => {
      if (typeof module.compute !== 'function') throw new SpokenError({ code: 'no-compute', message: `${MODULE} must export compute; got none.` })
      return { compute: module.compute }
    },
  )
  return loaded
}

const MODULE = '@guardband/questions/gain/compute'
