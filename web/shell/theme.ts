// Light, dark or as the system has it; the choice is kept in this browser.
import { useState } from 'react'

export type Theme = 'system' | 'light' | 'dark'

export function applyStoredTheme(): void {
  put(readTheme())
}

export function useTheme(): { readonly theme: Theme; readonly setTheme: (theme: Theme) => void } {
  const [theme, setState] = useState(readTheme)
  return {
    theme,
    setTheme: (next) => {
      setState(next)
      put(next)
      try {
        localStorage.setItem(KEY, next)
      } catch {
        // A browser that keeps nothing still shows the theme until it is closed.
      }
    },
  }
}

const KEY = 'guardband.theme'

function readTheme(): Theme {
  try {
    const kept = localStorage.getItem(KEY)
    return kept === 'light' || kept === 'dark' ? kept : 'system'
  } catch {
    return 'system'
  }
}

function put(theme: Theme): void {
  if (theme === 'system') delete document.documentElement.dataset['theme']
  else document.documentElement.dataset['theme'] = theme
}
