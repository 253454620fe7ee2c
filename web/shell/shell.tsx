// What surrounds every page: the lab's name, the rail of pages, the theme, and the listener to the hub.
import { useCallback, useState, type ReactNode } from 'react'
import { Link, Outlet, useNavigate } from '@tanstack/react-router'
import { useHubEvents } from '../hub/events.ts'
import { useHub } from '../hub/queries.ts'
import { RailFind } from './rail-find.tsx'
import { Unsent } from './unsent.tsx'
import { useTheme, type Theme } from './theme.ts'

export function Shell(): ReactNode {
  const navigate = useNavigate()
  useHubEvents(useCallback(() => void navigate({ to: '/' }), [navigate]))
  const lab = useHub('lab')
  const [open, setOpen] = useState(false)
  return (
    <div className="app">
      <a className="skip" href="#content">
        To the content
      </a>
      <header className={open ? 'rail rail-open' : 'rail'}>
        <div className="rail-head">
          <p className="lab-name">
            <strong>{lab.data?.lab.name ?? 'Guardband'}</strong>
            <small>{lab.data === undefined ? 'no lab open' : 'Guardband'}</small>
          </p>
          <button type="button" className="rail-button" aria-expanded={open} aria-controls="rail-pages" onClick={() => setOpen(!open)}>
            {open ? 'Close' : 'Pages'}
          </button>
        </div>
        <div className="rail-body" id="rail-pages">
          <RailFind onFind={() => setOpen(false)} />
          <nav aria-label="Pages">
            {PAGES.map((page) => (
              <Link key={page.to} to={page.to} onClick={() => setOpen(false)} activeOptions={{ exact: page.to === '/', includeSearch: false }}>
                {page.text}
              </Link>
            ))}
          </nav>
          <Unsent />
          <ThemeSwitch />
        </div>
      </header>
      <main id="content">
        <Outlet />
      </main>
    </div>
  )
}

const PAGES = [
  { to: '/', text: 'Bench' },
  { to: '/parts', text: 'Parts' },
  { to: '/tunes', text: 'Tunes' },
  { to: '/runs', text: 'Runs' },
  { to: '/questions', text: 'Questions' },
  { to: '/reports', text: 'Reports' },
  { to: '/rigs', text: 'Rigs' },
  { to: '/lab', text: 'Lab' },
] as const

const THEMES: readonly { readonly theme: Theme; readonly text: string }[] = [
  { theme: 'light', text: 'light' },
  { theme: 'dark', text: 'dark' },
  { theme: 'system', text: 'as the system' },
]

function ThemeSwitch(): ReactNode {
  const { theme, setTheme } = useTheme()
  return (
    <fieldset className="theme">
      <legend>Paper</legend>
      {THEMES.map((choice) => (
        <label key={choice.theme}>
          <input type="radio" name="theme" checked={theme === choice.theme} onChange={() => setTheme(choice.theme)} />
          <span>{choice.text}</span>
        </label>
      ))}
    </fieldset>
  )
}
