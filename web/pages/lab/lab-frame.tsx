// The frame of the lab's pages: the way from one to the other above the headline.
import type { ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import { Page } from '../../shell/page.tsx'
import { LAB_PAGES } from './lab-pages.ts'

export function LabFrame(props: {
  /** As the page is called in LAB_PAGES. */
  readonly name: string
  readonly headline: ReactNode
  readonly meta?: ReactNode
  readonly margin?: ReactNode
  readonly children: ReactNode
}): ReactNode {
  return (
    <Page
      crumbs={[{ text: 'Lab', to: '/lab' }, { text: props.name }]}
      name={props.name}
      headline={props.headline}
      meta={props.meta}
      margin={props.margin}
      before={
        <nav className="leaf-nav" aria-label="Pages of the lab">
          {LAB_PAGES.map((page) => (
            <Link key={page.to} to={page.to} activeOptions={{ exact: true, includeSearch: false }}>
              {page.text}
            </Link>
          ))}
        </nav>
      }
    >
      {props.children}
    </Page>
  )
}
