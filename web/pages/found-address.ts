// Where the page of a record is; kinds without one of their own are shown on another's.
import type { FoundHit, FoundKind } from '@guardband/model/api'

export function foundAddress(kind: FoundKind, { id, owner }: Pick<FoundHit, 'id' | 'owner'>): string {
  const own = PAGES[kind]
  if (own !== undefined) return own(id)
  return owner === null ? (WHERE_LISTED[kind] ?? '/') : (PAGES[owner.kind]?.(owner.id) ?? WHERE_LISTED[owner.kind] ?? '/')
}

const PAGES: Readonly<Partial<Record<string, (id: string) => string>>> = {
  part: (id) => `/parts/${id}`,
  sample: (id) => `/samples/${id}`,
  tune: (id) => `/tunes/${id}`,
  run: (id) => `/runs/${id}`,
  start: (id) => `/starts/${id}`,
  question: (id) => `/questions/${id}`,
  sheet: (id) => `/runs/enter?sheet=${id}`,
}

const WHERE_LISTED: Readonly<Partial<Record<string, string>>> = {
  workload: '/lab/workloads', suite: '/lab/suites', grade: '/lab/grades', ceiling: '/lab/ceilings', rig: '/rigs', 'setting kind': '/tunes/settings', report: '/reports', campaign: '/questions', evidence: '/', bin: '/parts', dose: '/parts', mount: '/rigs', assembly: '/rigs',
}
