// Holds a table that may be wider than its place: it scrolls, and can then be reached and scrolled by keyboard.
import { useLayoutEffect, useRef, useState, type ReactNode } from 'react'

export function ScrollFrame({ label, children }: { readonly label: string; readonly children: ReactNode }): ReactNode {
  const ref = useRef<HTMLDivElement>(null)
  const [wide, setWide] = useState(false)
  useLayoutEffect(() => {
    const element = ref.current
    if (element === null) return undefined
    const observer = new ResizeObserver(() => setWide(element.scrollWidth > element.clientWidth))
    observer.observe(element)
    for (const child of element.children) observer.observe(child)
    return () => observer.disconnect()
  }, [])
  return (
    <div ref={ref} className="ledger-frame" {...(wide ? { role: 'region', 'aria-label': `${label}, scrolls sideways`, tabIndex: 0 } : {})}>
      {children}
    </div>
  )
}
