// The workload "photo stack": takes the middle of sixteen noisy generated pictures pixel by pixel, on as many worker threads as threads.json says.
// One file, so that approving it covers all that runs. Only the stacking is timed: pictures and threads are ready before.
import { readFileSync } from 'node:fs'
import { Worker, isMainThread, parentPort, workerData } from 'node:worker_threads'

const WIDTH = 1800
const HEIGHT = 1200
const PIXELS = WIDTH * HEIGHT
const FRAMES = 16
/** Rows that a thread takes at a time. */
const ROWS = 20
/** Largest mean error, in steps of brightness, of a stack that went right; a single frame is off by about 40. */
const TOLERANCE = 20

if (isMainThread) await stackAll()
else stackShare(workerData)

async function stackAll() {
  const { threads } = JSON.parse(readFileSync(new URL('threads.json', import.meta.url), 'utf8'))
  const frames = new Uint16Array(new SharedArrayBuffer(2 * PIXELS * FRAMES))
  const stacked = new Uint16Array(new SharedArrayBuffer(2 * PIXELS))
  takePicturesInto(frames)
  // Place 0 opens the gate; place 1 counts the strips of rows that have been taken.
  const gate = new Int32Array(new SharedArrayBuffer(8))
  const workers = Array.from({ length: threads }, () => new Worker(new URL(import.meta.url), { workerData: { frames, stacked, gate } }))
  await Promise.all(workers.map(told))
  const done = workers.map(told)
  const begun = performance.now()
  Atomics.store(gate, 0, 1)
  Atomics.notify(gate, 0)
  await Promise.all(done)
  const seconds = (performance.now() - begun) / 1000

  let error = 0
  for (let pixel = 0; pixel < PIXELS; pixel++) error += Math.abs(stacked[pixel] - sceneAt(pixel)) / PIXELS
  if (error > TOLERANCE) {
    process.stderr.write(`the stack must lie within ${TOLERANCE} of the scene; it is off by ${error.toFixed(1)}\n`)
    process.exit(1)
  }
  process.stdout.write(`${JSON.stringify({ threads, frames: FRAMES, pixels: PIXELS, error: Number(error.toFixed(3)), seconds: Number(seconds.toFixed(5)) })}\n`)
}

/** @param {Worker} worker @returns {Promise<unknown>} */
function told(worker) {
  return new Promise((resolve, reject) => worker.once('message', resolve).once('error', reject))
}

/** @param {{ readonly frames: Uint16Array, readonly stacked: Uint16Array, readonly gate: Int32Array }} shared */
function stackShare({ frames, stacked, gate }) {
  // Code and memory are warm before the clock runs.
  stackRowsInto(stacked, frames, 0)
  parentPort?.postMessage('ready') // oxlint-disable-line unicorn/require-post-message-target-origin -- a worker thread has no origin
  Atomics.wait(gate, 0, 0)
  const strips = HEIGHT / ROWS
  for (let strip = Atomics.add(gate, 1, 1); strip < strips; strip = Atomics.add(gate, 1, 1)) stackRowsInto(stacked, frames, strip)
  parentPort?.postMessage('done') // oxlint-disable-line unicorn/require-post-message-target-origin -- a worker thread has no origin
}

/** @param {Uint16Array} stacked @param {Uint16Array} frames @param {number} strip */
function stackRowsInto(stacked, frames, strip) {
  const values = new Uint16Array(FRAMES)
  for (let pixel = strip * ROWS * WIDTH; pixel < (strip + 1) * ROWS * WIDTH; pixel++) {
    for (let frame = 0; frame < FRAMES; frame++) {
      const value = frames[frame * PIXELS + pixel]
      let at = frame
      for (; at > 0 && values[at - 1] > value; at--) values[at] = values[at - 1]
      values[at] = value
    }
    stacked[pixel] = (values[FRAMES / 2 - 1] + values[FRAMES / 2]) >>> 1
  }
}

/**
 * The same pictures each time: the scene with noise, and now and then a pixel that is burnt out.
 * @param {Uint16Array} frames
 */
function takePicturesInto(frames) {
  let state = 20261102
  for (let at = 0; at < frames.length; at++) {
    state ^= state << 13
    state ^= state >>> 17
    state ^= state << 5
    const bits = state >>> 0
    const noise = (bits & 127) + ((bits >>> 7) & 127) - 127
    frames[at] = (bits >>> 22) === 0 ? 4095 : sceneAt(at % PIXELS) + noise
  }
}

/**
 * Brightness of the scene, 1000 to 3000 of 4095.
 * @param {number} pixel
 */
function sceneAt(pixel) {
  const x = pixel % WIDTH
  const y = (pixel - x) / WIDTH
  return 1000 + ((x * 7 + y * 3) % 2000)
}
