// The change log as a page of its own.
import type { ReactNode } from 'react'
import { getRouteApi } from '@tanstack/react-router'
import { counted } from '@guardband/model/figures'
import { useHub } from '../../hub/queries.ts'
import { MarginNote } from '../../shell/page.tsx'
import { ChangeLog } from './change-log.tsx'
import { LabFrame } from './lab-frame.tsx'

const route = getRouteApi('/lab/changes')

export function LabChangesPage(): ReactNode {
  const { before } = route.useSearch()
  const head = useHub('lab').data?.head
  return (
    <LabFrame
      name="Change log"
      headline={head === undefined ? 'Change log' : head === 0 ? 'Nothing has been changed yet.' : `${counted(head, 'entry', 'entries')}; none is ever taken out.`}
      margin={
        <MarginNote title="Nothing is lost">
          <p>Every change to this lab is an entry in its log, with each record before and after. Undo is a new entry: the old one stays.</p>
        </MarginNote>
      }
    >
      <ChangeLog before={before} />
    </LabFrame>
  )
}
