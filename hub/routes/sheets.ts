// Routes of the entry grid.
import type { Lab } from '@guardband/lab'
import { ROUTES, type Run, type Sheet, type SheetWhole, type UsualValue } from '@guardband/model'
import { Refusal } from '../refusal.ts'
import { idParam, type RouteServer } from '../serve-route.ts'

export function serveSheetRoutes(server: RouteServer, { who }: { readonly who: string }): void {
  server.json(ROUTES.sheet, ({ lab, c }) => sheetWhole(lab, idParam(c)))
  server.json(ROUTES.usualValues, ({ lab, input }) => ({ values: requireSheet(lab, input.sheetId).workloadIds.flatMap((id) => usualValues(lab, id)) }))
  server.json(ROUTES.takeBack, ({ lab, input }) => ({ change: lab.takeBack(input.request, { who, why: '' }) }))
}

function sheetWhole(lab: Lab, id: string): SheetWhole {
  // Read before the records: what is written meanwhile makes the page read again, never miss it.
  const head = lab.head()
  const sheet = requireSheet(lab, id)
  const starts = sheet.starts.flatMap(({ startId }) => {
    const start = lab.get(startId)
    return start?.kind === 'start' ? [start] : []
  })
  const within = starts.flatMap(({ id: startId }) => lab.ofStart(startId))
  const assemblies = lab.list('assembly').filter(({ rigId }) => rigId === sheet.rigId)
  const onRig = new Set(assemblies.map((assembly) => assembly.id))
  return {
    head,
    sheet,
    starts,
    inForce: within.filter((record) => record.kind === 'in force'),
    runs: within.filter((record) => record.kind === 'run'),
    assemblies,
    mounts: lab.list('mount').filter(({ assemblyId }) => onRig.has(assemblyId)),
  }
}

function requireSheet(lab: Lab, id: string): Sheet {
  const sheet = lab.get(id)
  if (sheet?.kind === 'sheet') return sheet
  throw new Refusal(404, { code: 'no-sheet', message: 'there is no such sheet in this workspace.', mend: 'Choose one from the list, or make a new one.' })
}

function usualValues(lab: Lab, workloadId: string): readonly UsualValue[] {
  const { rows } = lab.runs({ from: 0, count: LAST_RUNS, workloadId, outcome: 'scored' satisfies Run['outcome'] })
  // What a person set aside is often the very slip that the next figure is to be held against.
  const byMeasure = Map.groupBy(rows.flatMap((row) => (row.setAside === null ? row.measures : [])), ({ name }) => name)
  return [...byMeasure].map(([measure, readings]) => ({ workloadId, measure, median: medianOf(readings.map(({ value }) => value)), runs: readings.length }))
}

function medianOf(values: readonly number[]): number {
  const sorted = values.toSorted((a, b) => a - b)
  return (sorted[(sorted.length - 1) >> 1] + sorted[sorted.length >> 1]) / 2
}

/** Enough that a single slip among them moves the median little. */
const LAST_RUNS = 25
