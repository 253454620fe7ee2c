// Loaded into a rig: whatever it does at intervals it does TIMES as often.
const times = Number(process.env.BENCH_TIMES)
const real = globalThis.setInterval
globalThis.setInterval = Object.assign((/** @type {() => void} */ work, /** @type {number} */ ms) => real(work, ms / times), real)
