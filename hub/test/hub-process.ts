// Run as a process of its own: serves the workspace named by its first argument and prints one line, port and token. Not a test by itself.
import { openLab } from '@guardband/lab'
import { startHub } from '../index.ts'
import { testSources } from './test-hub.ts'

const [, , folder] = process.argv
const sources = testSources()
const lab = openLab(folder, sources)
const hub = await startHub({
  lab, host: '127.0.0.1', port: 0, webFolder: folder, who: 'tester', createOwnLab: () => Promise.resolve(lab),
  sources: { ...sources, say: (line) => void process.stderr.write(`${line}\n`) },
})
process.stdout.write(`${hub.url}\n`)
