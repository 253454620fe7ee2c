// Whether the window is as narrow as a phone: then tables become lists of entries.
import { useSyncExternalStore } from 'react'

export function useNarrow(): boolean {
  return useSyncExternalStore(subscribe, () => query.matches)
}

const query = window.matchMedia('(max-width: 640px)')

function subscribe(onChange: () => void): () => void {
  query.addEventListener('change', onChange)
  return () => query.removeEventListener('change', onChange)
}
