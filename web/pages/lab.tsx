// Lab: what it is called, where it lies, what bench time costs, what is run, and the log of every change.
import type { ReactNode } from 'react'
import { getRouteApi } from '@tanstack/react-router'
import type { LabInfo } from '@guardband/model/api'
import { fixed } from '@guardband/model/figures'
import { unitText } from '@guardband/model/units'
import { useHub } from '../hub/queries.ts'
import { Ledger } from '../pieces/ledger.tsx'
import { NewLabButton } from '../pieces/new-lab.tsx'
import { MarginNote, Page } from '../shell/page.tsx'
import { Loaded } from '../shell/states.tsx'
import { ChangeLog } from './change-log.tsx'

const route = getRouteApi('/lab')

export function LabPage(): ReactNode {
  const lab = useHub('lab')
  const { before } = route.useSearch()
  return (
    <Page
      crumbs={[{ text: 'Lab' }]}
      name="Lab"
      headline={lab.data?.lab.name ?? 'Lab'}
      margin={
        <>
          <MarginNote title="Nothing is lost">
            <p>Every change to this lab is an entry in its log. Undo is a new entry: the old one stays.</p>
          </MarginNote>
          <MarginNote title="Another workspace">
            <p>Each lab is a folder of its own.</p>
            <NewLabButton />
          </MarginNote>
        </>
      }
    >
      <Loaded query={lab} what="the lab">{(info) => <Facts info={info} />}</Loaded>
      <Costs />
      <Workloads />
      <ChangeLog before={before} />
    </Page>
  )
}

function Facts({ info }: { readonly info: LabInfo }): ReactNode {
  return (
    <dl className="facts">
      <div>
        <dt>folder</dt>
        <dd className="figure breaks">{info.folder}</dd>
      </div>
      <div>
        <dt>currency</dt>
        <dd>{info.lab.currency === '' ? 'none: amounts stand without one' : info.lab.currency}</dd>
      </div>
      <div>
        <dt>data</dt>
        <dd>{info.lab.simulated ? 'from the simulated bench' : 'recorded on real machines'}</dd>
      </div>
    </dl>
  )
}

function Costs(): ReactNode {
  const campaigns = useHub('campaigns')
  return (
    <section>
      <h2>What a change-over costs</h2>
      <Loaded query={campaigns} what="the costs">
        {({ costs }) =>
          costs.length === 0 ? (
            <p className="soft">Not known for this lab; answers price bench time with the house figures.</p>
          ) : (
            <Ledger
              label="Costs of change-overs"
              columns={[
                { header: 'change-over', render: (cost) => cost.of },
                { header: 'by hand, min', align: 'number', render: (cost) => fixed(cost.handMinutes, Number.isInteger(cost.handMinutes) ? 0 : 1) },
                { header: 'machine, min', align: 'number', render: (cost) => fixed(cost.machineMinutes, Number.isInteger(cost.machineMinutes) ? 0 : 1) },
              ]}
              rows={costs}
              keyOf={(cost) => cost.id}
            />
          )
        }
      </Loaded>
    </section>
  )
}

function Workloads(): ReactNode {
  const query = useHub('workloads')
  return (
    <section>
      <h2>Workloads and suites</h2>
      <Loaded query={query} what="the workloads">
        {({ workloads, suites }) =>
          workloads.length === 0 ? (
            <p className="soft">None yet. They come with the runs that name them.</p>
          ) : (
            <>
              <Ledger
                label="Workloads"
                columns={[
                  { header: 'workload', render: (workload) => workload.name },
                  { header: 'group', render: (workload) => workload.group ?? '', empty: (workload) => workload.group === undefined },
                  {
                    header: 'measures',
                    wide: true,
                    render: (workload) => workload.measures.map((measure) => `${measure.name}${unitText(measure.unit) === '' ? '' : `, ${unitText(measure.unit)}`} (${measure.direction})`).join('; '),
                  },
                  { header: 'version', render: (workload) => [workload.version, workload.preset].filter((part) => part !== undefined).join(', '), empty: (workload) => workload.version === undefined && workload.preset === undefined },
                ]}
                rows={workloads}
                keyOf={(workload) => workload.id}
              />
              {suites.map((suite) => (
                <section key={suite.id} className="suite">
                  <h3>{suite.name}</h3>
                  <p>{suite.items.map((item) => `${workloads.find((workload) => workload.id === item.workloadId)?.name ?? 'a workload no longer here'}\u00a0\u00d7\u00a0${item.weight}`).join(' · ')}</p>
                </section>
              ))}
            </>
          )
        }
      </Loaded>
    </section>
  )
}
