// The workload "archive pack": compresses a generated text block by block, on as many worker threads as threads.json says.
// One file, so that approving it covers all that runs. Only the packing is timed: text and threads are ready before.
import { readFileSync } from 'node:fs'
import { Worker, isMainThread, parentPort, workerData } from 'node:worker_threads'
import { gunzipSync, gzipSync } from 'node:zlib'

const BLOCK = 512 * 1024
const BLOCKS = 32
const LEVEL = 6

if (isMainThread) await packAll()
else packShare(workerData)

async function packAll() {
  const { threads } = JSON.parse(readFileSync(new URL('threads.json', import.meta.url), 'utf8'))
  const text = new Uint8Array(new SharedArrayBuffer(BLOCK * BLOCKS))
  writeTextInto(text)
  // Place 0 opens the gate; place 1 counts the blocks that have been taken.
  const gate = new Int32Array(new SharedArrayBuffer(8))
  const workers = Array.from({ length: threads }, () => new Worker(new URL(import.meta.url), { workerData: { text, gate } }))
  await Promise.all(workers.map(told))
  const shares = workers.map(told)
  const begun = performance.now()
  Atomics.store(gate, 0, 1)
  Atomics.notify(gate, 0)
  const packed = (await Promise.all(shares)).flat()
  const seconds = (performance.now() - begun) / 1000

  const wrong = packed.filter(({ block, bytes }) => !sameBytes(gunzipSync(bytes), blockOf(text, block)))
  if (packed.length !== BLOCKS || wrong.length > 0) {
    process.stderr.write(`${BLOCKS} blocks must unpack to what was packed; ${packed.length - wrong.length} did\n`)
    process.exit(1)
  }
  const size = packed.reduce((sum, { bytes }) => sum + bytes.length, 0)
  process.stdout.write(`threads: ${threads}, packed ${text.length} bytes into ${size} in ${seconds.toFixed(4)} s: ${(text.length / 1e6 / seconds).toFixed(3)} MB/s\n`)
}

/** @param {Worker} worker @returns {Promise<{ block: number, bytes: Uint8Array }[]>} */
function told(worker) {
  return new Promise((resolve, reject) => worker.once('message', resolve).once('error', reject))
}

/** @param {{ readonly text: Uint8Array, readonly gate: Int32Array }} shared */
function packShare({ text, gate }) {
  // Code and memory are warm before the clock runs.
  gzipSync(blockOf(text, 0), { level: LEVEL })
  parentPort?.postMessage('ready') // oxlint-disable-line unicorn/require-post-message-target-origin -- a worker thread has no origin
  Atomics.wait(gate, 0, 0)
  const packed = []
  for (let block = Atomics.add(gate, 1, 1); block < BLOCKS; block = Atomics.add(gate, 1, 1)) packed.push({ block, bytes: gzipSync(blockOf(text, block), { level: LEVEL }) })
  parentPort?.postMessage(packed) // oxlint-disable-line unicorn/require-post-message-target-origin -- a worker thread has no origin
}

/** @param {Uint8Array} text @param {number} block */
function blockOf(text, block) {
  return text.subarray(block * BLOCK, (block + 1) * BLOCK)
}

/**
 * The same text each time: words of two to nine letters, some far more common than others.
 * @param {Uint8Array} text
 */
function writeTextInto(text) {
  let state = 20261101
  const random = () => {
    state ^= state << 13
    state ^= state >>> 17
    state ^= state << 5
    return (state >>> 0) / 2 ** 32
  }
  const words = Array.from({ length: 4000 }, () => Array.from({ length: 2 + Math.floor(8 * random()) }, () => 97 + Math.floor(26 * random() * random())))
  for (let at = 0; at < text.length; ) {
    for (const letter of words[Math.floor(words.length * random() ** 3)]) if (at < text.length) text[at++] = letter
    if (at < text.length) text[at++] = random() < 0.08 ? 10 : 32
  }
}

/** @param {Uint8Array} a @param {Uint8Array} b */
function sameBytes(a, b) {
  return a.length === b.length && a.every((byte, index) => byte === b[index])
}
