// The three workloads. Each does a fixed amount of work with the settings in force, checks its own result, and prints one figure as JSON.
// One file, so that approving it covers all that runs.
import { createHash } from 'node:crypto'
import { readFileSync } from 'node:fs'
import { isMainThread, parentPort, Worker, workerData } from 'node:worker_threads'
import { deflateRawSync, inflateRawSync } from 'node:zlib'

const BLOCK = 256 * 1024
/** Blocks of work: each workload takes some tenths of a second. @type {Readonly<Record<string, number>>} */
const BLOCKS = { 'archive pack': 72, 'photo stack': 320, 'code build': 72 }

/** What one block of each workload comes to. Each returns what proves that the work was done.
 * @type {Readonly<Record<string, (block: number, settings: { readonly level: number }) => number>>} */
const WORK = {
  'archive pack': (block, { level }) => {
    const text = textOf(block)
    const packed = deflateRawSync(text, { level })
    if (!inflateRawSync(packed).equals(text)) throw new Error(`block ${block} does not unpack to what was packed`)
    return packed.length
  },
  'photo stack': (block) => {
    const text = textOf(block)
    let sum = 0
    for (let at = 8; at < text.length; at++) sum += middle(text[at - 8], text[at - 4], text[at])
    return sum
  },
  'code build': (block) => {
    let text = textOf(block)
    for (let round = 0; round < 40; round++) text = Buffer.concat([createHash('sha256').update(text).digest(), text.subarray(0, BLOCK - 32)])
    return text.readUInt32LE(0)
  },
}

if (isMainThread) await runAll(process.argv[2])
else runShare(workerData)

/** @param {string} name */
async function runAll(name) {
  if (WORK[name] === undefined) throw new Error(`the workload must be one of ${Object.keys(WORK).join(', ')}; got ${name ?? 'nothing'}`)
  const settings = JSON.parse(readFileSync(new URL('in-force.json', import.meta.url), 'utf8'))
  // Place 0 opens the gate, place 1 counts the blocks that have been taken.
  const gate = new Int32Array(new SharedArrayBuffer(8))
  const workers = Array.from({ length: settings.workers }, () => new Worker(new URL(import.meta.url), { workerData: { name, settings, gate } }))
  await Promise.all(workers.map(told))
  const shares = workers.map(told)
  const begun = performance.now()
  Atomics.store(gate, 0, 1)
  Atomics.notify(gate, 0)
  const done = (await Promise.all(shares)).flat()
  const seconds = (performance.now() - begun) / 1000
  if (new Set(done.map(({ block }) => block)).size !== BLOCKS[name]) throw new Error(`${BLOCKS[name]} blocks must be done; got ${done.length}`)
  const proof = done.toSorted((a, b) => a.block - b.block).map(({ result }) => result)
  process.stdout.write(`${JSON.stringify({ seconds, rate: (BLOCKS[name] * BLOCK) / 1e6 / seconds, proof: createHash('sha256').update(proof.join()).digest('hex').slice(0, 16) })}\n`)
}

/** @param {Worker} worker @returns {Promise<{ readonly block: number, readonly result: number }[]>} */
function told(worker) {
  return new Promise((resolve, reject) => worker.once('message', resolve).once('error', reject))
}

/** @param {{ readonly name: string, readonly settings: { readonly level: number }, readonly gate: Int32Array }} share */
function runShare({ name, settings, gate }) {
  // Code and memory are warm before the clock runs.
  WORK[name](0, settings)
  parentPort?.postMessage('ready') // oxlint-disable-line unicorn/require-post-message-target-origin -- a worker thread has no origin
  Atomics.wait(gate, 0, 0)
  const done = []
  for (let block = Atomics.add(gate, 1, 1); block < BLOCKS[name]; block = Atomics.add(gate, 1, 1)) done.push({ block, result: WORK[name](block, settings) })
  parentPort?.postMessage(done) // oxlint-disable-line unicorn/require-post-message-target-origin -- a worker thread has no origin
}

/** The same bytes each time: words of a few letters, some far more common than others. */
function textOf(/** @type {number} */ block) {
  const text = Buffer.alloc(BLOCK)
  let state = 20261101 + block
  for (let at = 0; at < BLOCK; at++) {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0
    const draw = (state >>> 8) / 2 ** 24
    text[at] = draw < 0.18 ? 32 : 97 + Math.floor(26 * draw * draw)
  }
  return text
}

/** @param {number} a @param {number} b @param {number} c */
function middle(a, b, c) {
  return Math.max(Math.min(a, b), Math.min(Math.max(a, b), c))
}
