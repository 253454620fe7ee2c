// The scored workload: a fixed piece of work on one thread, over a table larger than the inner caches. Does it once for each message, and sends its wall time and its time on the processor, in milliseconds.
import { readFileSync } from 'node:fs'

const table = new Uint32Array(1 << 20).fill(1)
let state = 1

process.on('message', (rounds: number) => {
  const begun = performance.now()
  const before = onProcessor()
  work(rounds)
  process.send?.({ wall: performance.now() - begun, processor: onProcessor() - before })
})

/** Milliseconds of this thread, in nanosecond steps (the kernel's sched-stats, first field). */
function onProcessor(): number {
  return Number(readFileSync(`/proc/self/task/${process.pid}/schedstat`, 'utf8').split(' ', 1)[0]) / 1e6
}

function work(rounds: number): void {
  for (let round = 0; round < rounds; round++) {
    // Marsaglia's xorshift (2003) with 13, 17, 5: each step needs the one before, so that nothing can be left out.
    state ^= state << 13
    state ^= state >>> 17
    state ^= state << 5
    table[state & 0xfffff] += state
  }
}
