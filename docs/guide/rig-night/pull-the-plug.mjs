// Ends the rig and all that it runs at once and without a word, as a crash does. The machine itself stays up: that is all that it can't imitate.
import { readdirSync, readFileSync } from 'node:fs'

const processes = readdirSync('/proc').filter((name) => /^\d+$/.test(name)).flatMap((pid) => {
  try {
    const stat = readFileSync(`/proc/${pid}/stat`, 'utf8')
    const [, parent, group] = stat.slice(stat.lastIndexOf(')') + 2).split(' ')
    return [{ pid: Number(pid), parent: Number(parent), group: Number(group), words: readFileSync(`/proc/${pid}/cmdline`, 'utf8').split('\0') }]
  } catch {
    // It ended meanwhile.
    return []
  }
})
const rigs = processes.filter(({ words }) => words.some((word) => word.endsWith('rig/main.ts')) && words.includes('run') && words.some((word) => word.endsWith('my-night/plan.json')))
if (rigs.length === 0) {
  process.stderr.write('no rig carries out my-night/plan.json: start it in another terminal first\n')
  process.exit(1)
}
// The rig stands still while its run is ended, so that it can't note how that went.
for (const { pid } of rigs) process.kill(pid, 'SIGSTOP')
for (const { parent, group } of processes) if (rigs.some(({ pid }) => pid === parent)) endGroup(group)
for (const { pid } of rigs) process.kill(pid, 'SIGKILL')
process.stdout.write(`the rig (process ${rigs.map(({ pid }) => pid).join(', ')}) and what it ran are gone\n`)

/** @param {number} group */
function endGroup(group) {
  try {
    process.kill(-group, 'SIGKILL')
  } catch {
    // It ended by itself.
  }
}
