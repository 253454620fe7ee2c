// Makes the demo workspace from the simulated bench when it isn't there yet.
import { createLab, isLab } from '@guardband/lab'
import { SpokenError } from '@guardband/model'
import type { Terminal } from './terminal.ts'
import { labSources } from './workspace.ts'

export async function ensureDemo(terminal: Terminal, folder: string): Promise<void> {
  if (isLab(folder)) return
  terminal.err('Making the demo workspace (simulated) ...')
  const { DEMO_LAB, demoRecords } = await import('@guardband/simlab/demo')
  const records = demoRecords()
  try {
    const lab = createLab(folder, { ...DEMO_LAB, who: 'simulated bench', records }, labSources(terminal))
    await lab.close()
  } catch (error) {
    // Two starts at once: the other one's demo is as good.
    if (!(error instanceof SpokenError && error.code === 'lab-exists')) throw error
  }
}
