// The frame of every page: where you are, the sentence that sums it up, the sheet, and notes in the margin.
import { Fragment, useEffect, useRef, type ReactNode } from 'react'
import { Link, useRouterState } from '@tanstack/react-router'
import { useHub } from '../hub/queries.ts'
import { Unbroken } from '../pieces/unbroken.tsx'

export interface Crumb {
  readonly text: string
  readonly to?: '/parts' | '/tunes' | '/runs' | '/questions' | '/reports' | '/rigs' | '/lab'
  /** The part whose page it leads to. */
  readonly partId?: string
}

export function Page(props: {
  readonly crumbs: readonly Crumb[]
  /** Stands in the window's title and in a reader's list of headings. */
  readonly name: string
  readonly headline: ReactNode
  readonly before?: ReactNode
  readonly meta?: ReactNode
  readonly margin?: ReactNode
  readonly children: ReactNode
}): ReactNode {
  const lab = useHub('lab')
  const labName = lab.data?.lab.name
  useEffect(() => {
    document.title = [props.name, labName ?? 'Guardband', ...(lab.data?.lab.simulated === true ? ['simulated'] : [])].join(' · ')
  }, [props.name, labName, lab.data?.lab.simulated])
  return (
    <>
      <div className="crumb">
        <span>
          {props.crumbs.map((crumb, index) => (
            <Fragment key={crumb.text}>
              {index > 0 ? ' / ' : null}
              {crumb.to !== undefined ? (
                <Link to={crumb.to}>{crumb.text}</Link>
              ) : crumb.partId !== undefined ? (
                <Link to="/parts/$id" params={{ id: crumb.partId }}>
                  {crumb.text}
                </Link>
              ) : (
                crumb.text
              )}
            </Fragment>
          ))}
        </span>
        {lab.data?.lab.simulated === true ? <span className="simulated">simulated</span> : null}
      </div>
      {props.before}
      <Headline>{typeof props.headline === 'string' ? <Unbroken text={props.headline} /> : props.headline}</Headline>
      {props.meta === undefined ? null : <div className="meta">{props.meta}</div>}
      <div className={props.margin === undefined ? 'leaf' : 'leaf leaf-with-margin'}>
        <div className="leaf-main">{props.children}</div>
        {props.margin === undefined ? null : <aside aria-label="Notes in the margin">{props.margin}</aside>}
      </div>
    </>
  )
}

export function MarginNote({ title, tone, children }: { readonly title: string; readonly tone?: 'warns'; readonly children: ReactNode }): ReactNode {
  return (
    <section className={tone === 'warns' ? 'note note-warns' : 'note'}>
      <h2>
        {tone === 'warns' ? <span aria-hidden="true">! </span> : null}
        {title}
      </h2>
      {children}
    </section>
  )
}

/** Takes the focus when a link led here, so that a reader starts at the top of the new page. */
function Headline({ children }: { readonly children: ReactNode }): ReactNode {
  const heading = useRef<HTMLHeadingElement>(null)
  const path = useRouterState({ select: (state) => state.location.pathname })
  useEffect(() => {
    if (lastPath !== undefined && lastPath !== path) heading.current?.focus({ preventScroll: true })
    lastPath = path
  }, [path])
  return (
    <h1 ref={heading} tabIndex={-1}>
      {children}
    </h1>
  )
}

let lastPath: string | undefined
