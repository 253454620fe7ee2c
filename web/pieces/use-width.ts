// The width that an element has now, so that a picture is laid out for it and not shrunk to it.
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
    return () => observer.disconnect()
  }, [])
  return { ref, width }
}
