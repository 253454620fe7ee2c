// Every page has an address that restores it, its scope and its filters included.
import { createRootRoute, createRoute, createRouter, lazyRouteComponent, Link } from '@tanstack/react-router'
import type { ReactNode } from 'react'
import { FOUND_KINDS, type FoundKind } from '@guardband/model/api'
import { AnswerPage } from '../pages/answer.tsx'
import { AskPage } from '../pages/ask.tsx'
import { askSearch } from '../pages/ask-form.ts'
import { BenchPage } from '../pages/bench.tsx'
import { partFilterOf } from '../pages/parts/part-filter.ts'
import { PartsPage } from '../pages/parts/parts.tsx'
import { enterSearch } from '../pages/enter/enter-search.ts'
import { QuestionsPage } from '../pages/questions.tsx'
import { ReportsPage } from '../pages/reports.tsx'
import { RunsPage } from '../pages/runs.tsx'
import { runsSearch } from '../pages/run-filter.ts'
import { compareSearch, findSearch, newTuneSearch } from '../pages/tunes/search.ts'
import { Page } from './page.tsx'
import { Shell } from './shell.tsx'
import { Failed } from './states.tsx'

type Raw = Record<string, unknown>

const root = createRootRoute({ component: Shell, notFoundComponent: NoSuchPage, errorComponent: ({ error }) => <BrokenPage error={error} /> })

const routes = root.addChildren([
  createRoute({ getParentRoute: () => root, path: '/', component: BenchPage }),
  createRoute({ getParentRoute: () => root, path: '/parts', component: PartsPage, validateSearch: partFilterOf }),
  createRoute({
    getParentRoute: () => root,
    path: '/parts/$id',
    component: lazyRouteComponent(() => import('../pages/parts/part.tsx'), 'PartPage'),
    validateSearch: (raw: Raw): { enter?: 'tray' | undefined; find?: string | undefined } => ({ enter: raw['enter'] === 'tray' ? 'tray' : undefined, find: partFilterOf(raw).find }),
  }),
  createRoute({ getParentRoute: () => root, path: '/samples/$id', component: lazyRouteComponent(() => import('../pages/parts/sample.tsx'), 'SamplePage') }),
  createRoute({ getParentRoute: () => root, path: '/tunes', component: lazyRouteComponent(() => import('../pages/tunes/list.tsx'), 'TunesPage'), validateSearch: findSearch }),
  createRoute({ getParentRoute: () => root, path: '/tunes/new', component: lazyRouteComponent(() => import('../pages/tunes/new.tsx'), 'NewTunePage'), validateSearch: newTuneSearch }),
  createRoute({ getParentRoute: () => root, path: '/tunes/compare', component: lazyRouteComponent(() => import('../pages/tunes/compare.tsx'), 'ComparePage'), validateSearch: compareSearch }),
  createRoute({ getParentRoute: () => root, path: '/tunes/dump', component: lazyRouteComponent(() => import('../pages/tunes/dump.tsx'), 'DumpPage') }),
  createRoute({ getParentRoute: () => root, path: '/tunes/settings', component: lazyRouteComponent(() => import('../pages/tunes/kinds.tsx'), 'SettingKindsPage'), validateSearch: findSearch }),
  createRoute({ getParentRoute: () => root, path: '/tunes/$id', component: lazyRouteComponent(() => import('../pages/tunes/tune.tsx'), 'TunePage') }),
  createRoute({ getParentRoute: () => root, path: '/runs', component: RunsPage, validateSearch: runsSearch }),
  createRoute({ getParentRoute: () => root, path: '/runs/$id', component: lazyRouteComponent(() => import('../pages/run.tsx'), 'RunPage') }),
  createRoute({ getParentRoute: () => root, path: '/starts/$id', component: lazyRouteComponent(() => import('../pages/start.tsx'), 'StartPage') }),
  createRoute({ getParentRoute: () => root, path: '/runs/enter', component: lazyRouteComponent(() => import('../pages/enter/enter.tsx'), 'EnterPage'), validateSearch: enterSearch }),
  createRoute({ getParentRoute: () => root, path: '/runs/take', component: lazyRouteComponent(() => import('../pages/take.tsx'), 'TakePage') }),
  createRoute({ getParentRoute: () => root, path: '/questions', component: QuestionsPage }),
  createRoute({ getParentRoute: () => root, path: '/questions/ask', component: AskPage, validateSearch: askSearch }),
  createRoute({
    getParentRoute: () => root,
    path: '/questions/$id',
    component: AnswerPage,
    validateSearch: (raw: Raw): { scope?: 'these' | 'like' | undefined } => ({ scope: raw['scope'] === 'these' || raw['scope'] === 'like' ? raw['scope'] : undefined }),
  }),
  createRoute({
    getParentRoute: () => root,
    path: '/find',
    component: lazyRouteComponent(() => import('../pages/find.tsx'), 'FindPage'),
    validateSearch: (raw: Raw): { q?: string | undefined; kind?: FoundKind | undefined } => ({ q: wordsOf(raw['q']), kind: FOUND_KINDS.find((kind) => kind === raw['kind']) }),
  }),
  createRoute({ getParentRoute: () => root, path: '/reports', component: ReportsPage }),
  createRoute({ getParentRoute: () => root, path: '/rigs', component: lazyRouteComponent(() => import('../pages/rigs/rigs.tsx'), 'RigsPage') }),
  createRoute({ getParentRoute: () => root, path: '/lab', component: lazyRouteComponent(() => import('../pages/lab/home.tsx'), 'LabPage') }),
  createRoute({ getParentRoute: () => root, path: '/lab/costs', component: lazyRouteComponent(() => import('../pages/lab/costs.tsx'), 'LabCostsPage') }),
  createRoute({ getParentRoute: () => root, path: '/lab/workloads', component: lazyRouteComponent(() => import('../pages/lab/workloads.tsx'), 'LabWorkloadsPage') }),
  createRoute({ getParentRoute: () => root, path: '/lab/suites', component: lazyRouteComponent(() => import('../pages/lab/suites.tsx'), 'LabSuitesPage') }),
  createRoute({ getParentRoute: () => root, path: '/lab/grades', component: lazyRouteComponent(() => import('../pages/lab/grades.tsx'), 'LabGradesPage') }),
  createRoute({ getParentRoute: () => root, path: '/lab/ceilings', component: lazyRouteComponent(() => import('../pages/lab/ceilings.tsx'), 'LabCeilingsPage') }),
  createRoute({ getParentRoute: () => root, path: '/lab/devices', component: lazyRouteComponent(() => import('../pages/lab/devices.tsx'), 'LabDevicesPage') }),
  createRoute({ getParentRoute: () => root, path: '/lab/keep', component: lazyRouteComponent(() => import('../pages/keep.tsx'), 'KeepPage') }),
  createRoute({
    getParentRoute: () => root,
    path: '/lab/changes',
    component: lazyRouteComponent(() => import('../pages/lab/changes.tsx'), 'LabChangesPage'),
    validateSearch: (raw: Raw): { before?: number | undefined } => ({ before: countOf(raw['before']) }),
  }),
])

export const router = createRouter({ routeTree: routes, scrollRestoration: true })

declare module '@tanstack/react-router' {
  interface Register {
    router: typeof router
  }
}

/** A number in an address may be read as one already; an empty text is none. */
function wordsOf(value: unknown): string | undefined {
  if (typeof value === 'number') return String(value)
  return typeof value === 'string' && value !== '' ? value : undefined
}

function countOf(value: unknown): number | undefined {
  const count = Number(value)
  return Number.isInteger(count) && count > 0 ? count : undefined
}

function NoSuchPage(): ReactNode {
  return (
    <Page crumbs={[{ text: 'Nowhere' }]} name="No such page" headline="There is no page at this address.">
      <p>
        It may have been mistyped, or belong to another workspace. <Link to="/">Go to the bench</Link>
      </p>
    </Page>
  )
}

function BrokenPage({ error }: { readonly error: unknown }): ReactNode {
  return (
    <main className="alone">
      <h1>This page broke.</h1>
      <Failed error={error instanceof Error ? error : new Error(String(error))} />
      <p>
        <a href="/">Go to the bench</a>
      </p>
    </main>
  )
}
