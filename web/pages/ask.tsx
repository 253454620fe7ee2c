// Asking a Gain question: B against A, over which workloads, and the smallest gain that would matter.
import { useEffect, useState, type ReactNode } from 'react'
import { getRouteApi, Link, useNavigate } from '@tanstack/react-router'
import type { PartRow, SmallestGainOffer, TuneRow } from '@guardband/model/api'
import { counted, dayText } from '@guardband/model/figures'
import { slotSchema } from '@guardband/model/records/parts'
import { useAct, useHub } from '../hub/queries.ts'
import { MarginNote, Page } from '../shell/page.tsx'
import { Empty, Failed, Loaded } from '../shell/states.tsx'
import { askProblems, askSearch, gainAbout, usualSmallest, type AskFields, type AskKey, type AskProblem } from './ask-form.ts'

const route = getRouteApi('/questions/ask')

export function AskPage(): ReactNode {
  const parts = useHub('parts')
  const tunes = useHub('tunes')
  const workloads = useHub('workloads')
  return (
    <Page
      crumbs={[{ text: 'Questions', to: '/questions' }, { text: 'Ask' }]}
      name="Ask a question"
      headline="Is B faster than A, and by how much?"
      meta={<span>Or cooler, thriftier, quieter: whatever the workloads measure.</span>}
      margin={
        <>
          <MarginNote title="Fixed before you look">
            <p>The smallest gain that matters is kept with the time at which you fixed it, and printed with the answer. Choosing it after the figures would make any gain look right.</p>
          </MarginNote>
          <MarginNote title="What is compared">
            <p>The samples in one slot. With the same samples on both sides, as when a tune is changed, each sample is its own measure; that is the sharpest comparison.</p>
          </MarginNote>
        </>
      }
    >
      <Loaded query={parts} what="the parts">
        {(partReply) => (
          <Loaded query={tunes} what="the tunes">
            {(tuneReply) => (
              <Loaded query={workloads} what="the suites">
                {({ suites }) => (suites.length === 0 ? <NothingToAsk /> : <AskForm parts={partReply.rows} tunes={tuneReply.rows} suites={suites} />)}
              </Loaded>
            )}
          </Loaded>
        )}
      </Loaded>
    </Page>
  )
}

function NothingToAsk(): ReactNode {
  return (
    <Empty title="Nothing to compare yet">
      <p>A question needs runs of two parts or two tunes. Bring some in first.</p>
      <p>
        <Link className="button button-main" to="/runs/take">
          Take in a file of runs
        </Link>
      </p>
    </Empty>
  )
}

function pick<Key extends AskKey>(fields: AskFields, key: Key): Partial<Record<Key, string>> {
  const value = fields[key]
  // One key of the very name asked for.
  return value === undefined ? {} : ({ [key]: value } as Record<Key, string>)
}

function smallestHint(fields: AskFields, offer: SmallestGainOffer | undefined): string {
  if (offer?.from === 'plan') return `Left empty: ${offer.percent}, as the plan "${offer.plan}" fixed it on ${dayText(offer.fixedAt)}, before its runs.`
  return `Fixed with the time at which you ask. Left empty: ${usualSmallest(fields)}, as is usual ${fields.aPart === fields.bPart ? 'for a tuning step' : 'part against part'}.`
}

interface Choices {
  readonly parts: readonly PartRow[]
  readonly tunes: readonly TuneRow[]
  readonly suites: readonly { readonly id: string; readonly name: string; readonly items: readonly unknown[] }[]
}

function AskForm({ parts, tunes, suites }: Choices): ReactNode {
  const search = route.useSearch()
  const navigate = useNavigate()
  const [fields, setFields] = useState<AskFields>(() => ({ ...(suites.length === 1 ? { suite: suites[0]?.id } : {}), ...search }))
  const [asked, setAsked] = useState<'not yet' | 'tried'>('not yet')
  const ask = useAct('ask')
  const sides = { ...pick(fields, 'aPart'), ...pick(fields, 'aTune'), ...pick(fields, 'bPart'), ...pick(fields, 'bTune') }
  const offer = useHub('smallestGain', { input: sides, ...(Object.keys(sides).length < 2 ? { skip: true as const } : {}) }).data
  useEffect(() => {
    void navigate({ to: '/questions/ask', search: fields, replace: true })
  }, [fields, navigate])

  const set = (key: AskKey, value: string): void => setFields((before) => withField(before, key, value, parts))
  const problems = askProblems(fields)
  const shown = asked === 'tried' ? problems : []
  return (
    <form
      className="sheet form"
      noValidate
      onSubmit={(event) => {
        event.preventDefault()
        setAsked('tried')
        const first = problems[0]
        if (first !== undefined) {
          document.getElementById(idOf(first.key))?.focus()
          return
        }
        const title = fields.title?.trim()
        ask.mutate(
          { input: { ask: { kind: 'gain', about: gainAbout(fields, new Date(), offer) }, ...(title === undefined || title === '' ? {} : { title }) } },
          { onSuccess: ({ id }) => void navigate({ to: '/questions/$id', params: { id } }) },
        )
      }}
    >
      <div className="sides">
        <SideFields side="b" legend="Is B ..." fields={fields} set={set} parts={parts} tunes={tunes} problems={shown} />
        <SideFields side="a" legend="... faster than A?" fields={fields} set={set} parts={parts} tunes={tunes} problems={shown} />
      </div>
      <div className="sides">
        <Field name="suite" label="Over these workloads" problems={shown}>
          <select {...control('suite', shown)} value={fields.suite ?? ''} onChange={(event) => set('suite', event.currentTarget.value)}>
            <option value="">choose a suite</option>
            {suites.map((suite) => (
              <option key={suite.id} value={suite.id}>
                {suite.name} ({counted(suite.items.length, 'workload')})
              </option>
            ))}
          </select>
        </Field>
        <Field name="slot" label="Samples compared are those of the" problems={shown}>
          <select {...control('slot', shown)} value={fields.slot ?? 'processor'} onChange={(event) => set('slot', event.currentTarget.value)}>
            {slotSchema.options.map((slot) => (
              <option key={slot}>{slot}</option>
            ))}
          </select>
        </Field>
      </div>
      <Field name="smallest" label="Smallest gain that matters, %" hint={smallestHint(fields, offer)} problems={shown}>
        <input {...control('smallest', shown)} aria-describedby={describedBy('smallest', shown, true)} className="short figure" inputMode="decimal" value={fields.smallest ?? ''} placeholder={offer?.from === 'plan' ? String(offer.percent) : usualSmallest(fields)} onChange={(event) => set('smallest', event.currentTarget.value)} />
      </Field>
      <details className="more" open={fields.extra !== undefined || fields.worth !== undefined}>
        <summary>Is it worth its price?</summary>
        <div className="sides">
          <Amount name="extra" label="B costs more by" hint="May be negative." fields={fields} set={set} problems={shown} />
          <Amount name="worth" label="One percent is worth" hint="To the one who buys it." fields={fields} set={set} problems={shown} />
          <Amount name="partPrice" label="Price of A" hint="May stay empty." fields={fields} set={set} problems={shown} />
          <Amount name="machinePrice" label="Price of a whole machine" hint="With A in it; may stay empty." fields={fields} set={set} problems={shown} />
        </div>
      </details>
      <Field name="title" label="A name for the question (may stay empty)" problems={shown}>
        <input {...control('title', shown)} maxLength={200} value={fields.title ?? ''} onChange={(event) => set('title', event.currentTarget.value)} />
      </Field>
      {ask.isError ? <Failed error={ask.error} /> : null}
      <div className="buttons">
        <button type="submit" className="button button-main" disabled={ask.isPending}>
          Ask
        </button>
      </div>
    </form>
  )
}

/** Choosing a part also chooses the slot that is compared, until the person says otherwise. */
function withField(before: AskFields, key: AskKey, value: string, parts: readonly PartRow[]): AskFields {
  const slot = (key === 'bPart' || key === 'aPart') && value !== '' ? parts.find((row) => row.part.id === value)?.part.slot : undefined
  return askSearch({ ...before, ...(slot === undefined ? {} : { slot }), [key]: value })
}

function startsOf(row: PartRow): number {
  return row.samples.reduce((sum, sample) => sum + sample.starts, 0)
}

interface FieldsProps {
  readonly fields: AskFields
  readonly set: (key: AskKey, value: string) => void
  readonly problems: readonly AskProblem[]
}

function SideFields(props: FieldsProps & { readonly side: 'a' | 'b'; readonly legend: string; readonly parts: readonly PartRow[]; readonly tunes: readonly TuneRow[] }): ReactNode {
  const part: AskKey = props.side === 'a' ? 'aPart' : 'bPart'
  const tune: AskKey = props.side === 'a' ? 'aTune' : 'bTune'
  return (
    <fieldset className="side-fields">
      <legend>{props.legend}</legend>
      <Field name={part} label="Part" problems={props.problems}>
        <select {...control(part, props.problems)} value={props.fields[part] ?? ''} onChange={(event) => props.set(part, event.currentTarget.value)}>
          <option value="">any part</option>
          {props.parts.map((row) => (
            <option key={row.part.id} value={row.part.id}>
              {row.part.name} ({counted(row.samples.length, 'sample')}, {counted(startsOf(row), 'start')})
            </option>
          ))}
        </select>
      </Field>
      <Field name={tune} label="Tune" problems={props.problems}>
        <select {...control(tune, props.problems)} value={props.fields[tune] ?? ''} onChange={(event) => props.set(tune, event.currentTarget.value)}>
          <option value="">any tune</option>
          {props.tunes.map((row) => (
            <option key={row.tune.id} value={row.tune.id}>
              {row.tune.name} ({counted(row.starts, 'start')})
            </option>
          ))}
        </select>
      </Field>
    </fieldset>
  )
}

function Amount({ name, label, hint, fields, set, problems }: FieldsProps & { readonly name: AskKey; readonly label: string; readonly hint: string }): ReactNode {
  const lab = useHub('lab')
  const currency = lab.data?.lab.currency ?? ''
  return (
    <Field name={name} label={currency === '' ? label : `${label}, ${currency}`} hint={hint} problems={problems}>
      <input {...control(name, problems)} aria-describedby={describedBy(name, problems, true)} className="short figure" inputMode="decimal" value={fields[name] ?? ''} onChange={(event) => set(name, event.currentTarget.value)} />
    </Field>
  )
}

function Field({ name, label, hint, problems, children }: { readonly name: AskKey; readonly label: string; readonly hint?: string; readonly problems: readonly AskProblem[]; readonly children: ReactNode }): ReactNode {
  const problem = problems.find((candidate) => candidate.key === name)
  return (
    <div className="field">
      <label htmlFor={idOf(name)}>{label}</label>
      {children}
      {hint === undefined ? null : (
        <p className="hint" id={`${idOf(name)}-hint`}>
          {hint}
        </p>
      )}
      {problem === undefined ? null : (
        <p className="problem" id={`${idOf(name)}-problem`} role="alert">
          {problem.sentence}
        </p>
      )}
    </div>
  )
}

function control(name: AskKey, problems: readonly AskProblem[]): { readonly id: string; readonly 'aria-invalid'?: true; readonly 'aria-describedby'?: string } {
  const wrong = problems.some((problem) => problem.key === name)
  return { id: idOf(name), ...(wrong ? { 'aria-invalid': true, 'aria-describedby': `${idOf(name)}-problem` } : {}) }
}

function describedBy(name: AskKey, problems: readonly AskProblem[], hinted: true | undefined): string {
  return [...(hinted === true ? [`${idOf(name)}-hint`] : []), ...(problems.some((problem) => problem.key === name) ? [`${idOf(name)}-problem`] : [])].join(' ')
}

function idOf(name: AskKey): string {
  return `ask-${name}`
}
