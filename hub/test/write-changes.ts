// Run as a process of its own: opens the workspace named by its argument and makes one change. Not a test by itself.
import { openLab } from '@guardband/lab'
import { testSources } from './test-hub.ts'

const [, , folder, runId, reason] = process.argv
const lab = openLab(folder, testSources())
const change = lab.setAside(runId, { who: 'another process', reason })
await lab.close()
process.stdout.write(String(change))
