// Makes the demo workspace from the simulated bench when it isn't there yet.
import { createLab, isLab } from '@guardband/lab'
import { SpokenError } from '@guardband/model'
import type { Terminal } from './terminal.ts'
import { labSources } from './workspace.ts'

export async function ensureDemo(terminal: Terminal, folder: string): Promise<void> {
  if (isLab(folder)) return
  terminal.err('Making the demo workspace (simulated) ...')
  const { DEMO_LAB, demoEvidence, demoRecords } = await import('@guardband/simlab/demo')
  const sources = labSources(terminal)
  try {
    const lab = createLab(folder, { ...DEMO_LAB, who: WHO, records: demoRecords() }, sources)
    try {
      const { text, ...file } = demoEvidence()
      const bytes = new TextEncoder().encode(text)
      await lab.evidence.keep({ ...file, request: sources.newId(), who: WHO, thumbnailBytes: 0, pieces: inOnePiece(bytes), limit: bytes.byteLength })
    } finally {
      await lab.close()
    }
  } catch (error) {
    // Two starts at once: the other one's demo is as good.
    if (!(error instanceof SpokenError && error.code === 'lab-exists')) throw error
  }
}

const WHO = 'simulated bench'

async function* inOnePiece(bytes: Uint8Array): AsyncGenerator<Uint8Array> {
  yield bytes
}
