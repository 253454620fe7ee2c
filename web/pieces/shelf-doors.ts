// The ways onto a shelf that are no buttons: files dropped on it, and a screenshot pasted while it is the one at hand.
import { useEffect, useEffectEvent, useRef, useState, type RefObject } from 'react'

export interface ShelfDoors<Element> {
  readonly shelf: RefObject<Element | null>
  /** Whether files are held over it. */
  readonly over: boolean
}

export function useShelfDoors<Element extends HTMLElement>(add: (files: readonly File[]) => void): ShelfDoors<Element> {
  const shelf = useRef<Element>(null)
  const [over, setOver] = useState(false)
  const take = useEffectEvent(add)
  useEffect(() => {
    const element = shelf.current
    if (element === null) return undefined
    atHand = element
    const listening = new AbortController()
    const { signal } = listening
    const reach = (): void => {
      atHand = element
    }
    element.addEventListener('pointerenter', reach, { signal })
    element.addEventListener('focusin', reach, { signal })
    element.addEventListener('dragover', (event) => {
      if (event.dataTransfer?.types.includes('Files') !== true) return
      event.preventDefault()
      setOver(true)
    }, { signal })
    element.addEventListener('dragleave', (event) => {
      if (!(event.relatedTarget instanceof Node && element.contains(event.relatedTarget))) setOver(false)
    }, { signal })
    element.addEventListener('drop', (event) => {
      event.preventDefault()
      setOver(false)
      take([...(event.dataTransfer?.files ?? [])])
    }, { signal })
    document.addEventListener('paste', (event) => {
      const files = [...(event.clipboardData?.files ?? [])]
      if (files.length === 0 || atHand !== element) return
      event.preventDefault()
      take(files.map(named))
    }, { signal })
    return () => {
      listening.abort()
      if (atHand === element) atHand = undefined
    }
  }, [])
  return { shelf, over }
}

/** Of several shelves on a page, a paste goes to the one that was last pointed at or used. */
let atHand: HTMLElement | undefined

/** A screenshot comes without a name of its own: its moment tells it from the next one. */
function named(file: File): File {
  if (!/^image\.\w+$/.test(file.name)) return file
  const moment = new Date(file.lastModified).toISOString().slice(0, 19).replace('T', ' ').replaceAll(':', '.')
  return new File([file], `pasted ${moment}${file.name.slice('image'.length)}`, { type: file.type, lastModified: file.lastModified })
}
