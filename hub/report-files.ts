// Published reports: only files that a report record names, and nothing in them may run.
import { readFile } from 'node:fs/promises'
import { basename, join } from 'node:path'
import type { Lab } from '@guardband/lab'
import type { Context } from 'hono'
import { REPORT_POLICY } from './guard.ts'
import { Refusal } from './refusal.ts'

export async function sendReport(c: Context, lab: Lab, file: string): Promise<Response> {
  const report = lab.list('report').find((entry) => entry.file === file)
  if (report === undefined || basename(file) !== file || file.includes('\\')) {
    throw new Refusal(404, { code: 'report-unknown', message: 'this workspace has no such report.', mend: 'The Reports page lists them.' })
  }
  const bytes = await readReport(join(lab.folder, 'reports', file))
  c.header('content-security-policy', REPORT_POLICY)
  c.header('content-type', 'text/html; charset=utf-8')
  c.header('content-disposition', `${c.req.query('download') === undefined ? 'inline' : 'attachment'}; filename*=UTF-8''${encodeURIComponent(file)}`)
  return c.body(bytes)
}

async function readReport(path: string): Promise<Uint8Array<ArrayBuffer>> {
  try {
    return await readFile(path)
  } catch {
    throw new Refusal(404, { code: 'report-missing', message: 'the file of this report is no longer in the reports folder.', mend: 'Put it back from a copy; "npx guardband check" names its digest.' })
  }
}
