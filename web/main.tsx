// Starts the page.
import './hub/no-eval.ts'
import '@fontsource-variable/atkinson-hyperlegible-next/wght.css'
import '@fontsource-variable/atkinson-hyperlegible-mono/wght.css'
import './styles/tokens.css'
import './styles/base.css'
import './styles/shell.css'
import './styles/ledger.css'
import './styles/answer.css'
import './styles/enter.css'
import './styles/evidence.css'
import './styles/history.css'
import './styles/intake.css'
import './styles/live.css'
import './styles/parts.css'
import './styles/tunes.css'
import './styles/print.css'
import { StrictMode } from 'react'
import { createRoot } from 'react-dom/client'
import { QueryClientProvider } from '@tanstack/react-query'
import { RouterProvider } from '@tanstack/react-router'
import { createQueries } from './hub/queries.ts'
import { router } from './shell/router.tsx'
import { applyStoredTheme } from './shell/theme.ts'

applyStoredTheme()
const place = document.getElementById('root')
if (place === null) throw new Error('index.html must have an element with id "root"; got none')
createRoot(place).render(
  <StrictMode>
    <QueryClientProvider client={createQueries()}>
      <RouterProvider router={router} />
    </QueryClientProvider>
  </StrictMode>,
)
