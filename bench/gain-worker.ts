// Computes Gain on what it is sent and says how long that took.
import type { GainSnapshot } from '@guardband/model'
import { compute } from '@guardband/questions/gain/compute'
import { parentPort } from 'node:worker_threads'

parentPort?.on('message', (snapshot: GainSnapshot) => {
  const from = performance.now()
  const answer = compute(snapshot)
  parentPort?.postMessage({ milliseconds: performance.now() - from, answer })
})
