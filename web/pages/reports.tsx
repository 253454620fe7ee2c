// Reports: what was published, and publishing more. A report is one file that holds its answers and what they rest on.
import type { ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import { headlineText } from '@guardband/model/answer'
import { counted } from '@guardband/model/figures'
import { keepTogether } from '@guardband/questions/visible-text'
import { useAct, useHub } from '../hub/queries.ts'
import { Ledger } from '../pieces/ledger.tsx'
import { When } from '../pieces/when.tsx'
import { Page } from '../shell/page.tsx'
import { Empty, Failed, Loaded } from '../shell/states.tsx'

export function ReportsPage(): ReactNode {
  const reports = useHub('reports')
  const list = reports.data?.reports
  return (
    <Page crumbs={[{ text: 'Reports' }]} name="Reports" headline={list === undefined ? 'Reports' : list.length === 0 ? 'Nothing is published yet.' : `${counted(list.length, 'report')} published.`}>
      <Loaded query={reports} what="the reports">
        {(reply) =>
          reply.reports.length === 0 ? (
            <Empty>
              <p>A report is one file: the answers with their pictures and tables, what they rest on, and how they were computed. It opens in any browser, with no network.</p>
            </Empty>
          ) : (
            <Ledger
              label="Reports"
              columns={[
                {
                  header: 'report',
                  render: (report) => (
                    <a href={reportAddress(report.file)} target="_blank" rel="noopener">
                      {report.title}
                    </a>
                  ),
                },
                { header: 'number', align: 'number', render: (report) => report.number },
                { header: 'published', render: (report) => <When at={report.at} /> },
                { header: 'answers', align: 'number', render: (report) => report.answers.length },
                {
                  header: 'file',
                  render: (report) => (
                    <a href={`${reportAddress(report.file)}?download`} aria-label={`Save the file of ${report.title}`}>
                      Save
                    </a>
                  ),
                },
              ]}
              rows={reply.reports}
              keyOf={(report) => report.id}
            />
          )
        }
      </Loaded>
      <Publish />
    </Page>
  )
}

export function reportAddress(file: string): string {
  return `/reports/${encodeURIComponent(file)}`
}

function Publish(): ReactNode {
  const questions = useHub('questions')
  const publish = useAct('publish')
  const rows = questions.data?.rows ?? []
  if (questions.data !== undefined && rows.length === 0) {
    return (
      <p>
        Reports are made of answers. <Link to="/questions/ask">Ask a question</Link> first.
      </p>
    )
  }
  return (
    <section className="sheet">
      <h2>Publish a report</h2>
      <Loaded query={questions} what="the questions">
        {() => (
          <form
            className="form"
            onSubmit={(event) => {
              event.preventDefault()
              const fields = new FormData(event.currentTarget)
              const form = event.currentTarget
              publish.mutate({ input: { title: textsOf(fields, 'title').join('').trim(), questionIds: textsOf(fields, 'question') } }, { onSuccess: () => form.reset() })
            }}
          >
            <div className="field">
              <label htmlFor="report-title">Title</label>
              <input id="report-title" name="title" required maxLength={200} />
            </div>
            <fieldset className="choices">
              <legend>Answers in it</legend>
              {rows.map((row) => (
                <label key={row.question.id}>
                  <input type="checkbox" name="question" value={row.question.id} /> <span>{keepTogether(row.headline === null ? row.title : headlineText(row.headline))}</span>
                </label>
              ))}
            </fieldset>
            {publish.isError ? <Failed error={publish.error} /> : null}
            {publish.isSuccess ? (
              <p role="status">
                Published:{' '}
                <a href={reportAddress(publish.data.report.file)} target="_blank" rel="noopener">
                  {publish.data.report.title}
                </a>
              </p>
            ) : null}
            <div className="buttons">
              <button type="submit" className="button button-main" disabled={publish.isPending}>
                {publish.isPending ? 'Publishing ...' : 'Publish'}
              </button>
            </div>
          </form>
        )}
      </Loaded>
    </section>
  )
}

function textsOf(fields: FormData, name: string): string[] {
  return fields.getAll(name).filter((value) => typeof value === 'string')
}
