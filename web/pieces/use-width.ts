// The width that an element has now, so that a picture is laid out for it and not shrunk to it.
import { flushSync } from 'react-dom'
import { useLayoutEffect, useRef, useState, type RefObject } from 'react'

export function useWidth<E extends HTMLElement>(): { readonly ref: RefObject<E | null>; readonly width: number | null } {
  const ref = useRef<E>(null)
  const [width, setWidth] = useState<number | null>(null)
  useLayoutEffect(() => {
    const element = ref.current
    if (element === null) return undefined
    const measure = (): void => setWidth(Math.floor(element.getBoundingClientRect().width))
    measure()
    const observer = new ResizeObserver(measure)
    observer.observe(element)
    // The browser lays the paper out at once: there is no time for a render of its own.
    const layOutForPaper = (): void => flushSync(() => setWidth(PAPER_WIDTH))
    window.addEventListener('beforeprint', layOutForPaper)
    window.addEventListener('afterprint', measure)
    return () => {
      observer.disconnect()
      window.removeEventListener('beforeprint', layOutForPaper)
      window.removeEventListener('afterprint', measure)
    }
  }, [])
  return { ref, width }
}

/** CSS pixels between the margins of an A4 page. */
const PAPER_WIDTH = 680
