// What the lab knows of settings: unit, shape, step, usual range and domain of each, which fill in and guard what is typed.
import { useState, type ReactNode } from 'react'
import { useSearch, useNavigate } from '@tanstack/react-router'
import { counted, exact } from '@guardband/model/figures'
import { settingKindSchema, type SettingKind } from '@guardband/model/records/tune'
import type { KnownSetting } from '@guardband/model/settings/setting-book'
import { readUnit } from '@guardband/model/settings/read-unit'
import { convert, unitText } from '@guardband/model/units'
import { useApply } from '../../hub/apply.ts'
import { newId } from '../../hub/new-id.ts'
import { useHub } from '../../hub/queries.ts'
import { ChoiceField, LinesField, TextField } from '../../pieces/field.tsx'
import { FormDialog } from '../../pieces/form-dialog.tsx'
import { Ledger } from '../../pieces/ledger.tsx'
import { figureProblem, typedFigure } from '../../pieces/typed-figure.ts'
import { linesOf, typedLines } from '../../pieces/typed-lines.ts'
import { MarginNote, Page } from '../../shell/page.tsx'
import { Empty, Loaded } from '../../shell/states.tsx'

export function SettingKindsPage(): ReactNode {
  const { find } = useSearch({ from: '/tunes/settings' })
  const navigate = useNavigate({ from: '/tunes/settings' })
  const known = useHub('knownSettings')
  const [chosen, setChosen] = useState<KnownSetting | null>(null)
  const words: readonly string[] = (find ?? '').toLowerCase().split(/\s+/)
  const shown = known.data?.settings.filter(({ key, kind }) => words.every((word) => `${key} ${kind?.domain ?? ''}`.toLowerCase().includes(word)))
  const some = (field: (kind: SettingKind) => unknown): boolean => known.data?.settings.some(({ kind }) => kind !== null && field(kind) !== undefined) === true
  const described = known.data?.settings.filter(({ kind }) => kind !== null).length ?? 0
  return (
    <Page
      crumbs={[{ text: 'Tunes', to: '/tunes' }, { text: 'Settings' }]}
      name="Settings that the lab knows"
      headline={known.data === undefined ? 'Settings that the lab knows' : known.data.settings.length === 0 ? 'The lab knows no settings yet.' : `The lab knows ${counted(known.data.settings.length, 'setting')}, ${described === known.data.settings.length ? 'all' : `${described} of them`} described.`}
      margin={
        <MarginNote title="What it is good for">
          <p>The unit is filled in where none is typed. A figure outside the usual range, or between two steps, is questioned before it is kept. Settings of one domain stand together.</p>
        </MarginNote>
      }
    >
      <Loaded query={known} what="what the lab knows">
        {(reply) =>
          reply.settings.length === 0 ? (
            <Empty>
              <p>They come with the first tune: what is typed there is remembered with its unit and shape, and can be described here.</p>
            </Empty>
          ) : (
            <>
              <search>
                <label className="tune-find">
                  Find
                  <input type="search" value={find ?? ''} placeholder="name or domain" onChange={(event) => void navigate({ search: { find: event.currentTarget.value === '' ? undefined : event.currentTarget.value }, replace: true })} />
                </label>
              </search>
              <Ledger
                label="Settings that the lab knows"
                columns={[
                  { header: 'setting', render: ({ key }) => key },
                  ...(some(({ domain }) => domain) ? [{ header: 'domain', render: ({ kind }: KnownSetting) => kind?.domain ?? '', empty: ({ kind }: KnownSetting) => kind?.domain === undefined }] : []),
                  { header: 'is', render: ({ shape, unit, modes }) => (shape === 'mode' ? modes.slice(0, MOST_MODES).join(' / ') : `${SHAPE_WORDS[shape]}${unit === '' ? '' : `, ${unitText(unit)}`}`) },
                  ...(some(({ step }) => step) ? [{ header: 'step', align: 'number' as const, render: ({ kind }: KnownSetting) => (kind?.step === undefined ? '' : withUnit(exact(kind.step), kind.unit)), empty: ({ kind }: KnownSetting) => kind?.step === undefined }] : []),
                  ...(some(({ usualLow }) => usualLow) ? [{ header: 'usually', align: 'number' as const, render: ({ kind }: KnownSetting) => usualText(kind), empty: ({ kind }: KnownSetting) => usualText(kind) === '' }] : []),
                  { header: 'asked so far', align: 'number', render: seenText, empty: ({ seen }) => seen.length === 0 },
                  { header: 'tunes', align: 'number', render: ({ tunes }) => tunes },
                  {
                    header: 'edit',
                    unseen: true,
                    render: (row) => (
                      <button type="button" className="button-quiet" aria-label={`${row.kind === null ? 'Describe' : 'Change'} ${row.key}`} onClick={() => setChosen(row)}>
                        {row.kind === null ? 'Describe' : 'Change'}
                      </button>
                    ),
                  },
                ]}
                rows={shown ?? []}
                keyOf={({ key }) => key}
              />
            </>
          )
        }
      </Loaded>
      {chosen === null ? null : <KindDialog known={chosen} onClose={() => setChosen(null)} />}
    </Page>
  )
}

const MOST_MODES = 4
const SHAPE_WORDS = { scalar: 'a figure', table: 'a table', curve: 'a curve', mode: 'a name' } as const

function usualText(kind: SettingKind | null): string {
  if (kind?.usualLow === undefined || kind.usualHigh === undefined) return ''
  return withUnit(`${exact(kind.usualLow)} to ${exact(kind.usualHigh)}`, kind.unit)
}

function withUnit(figures: string, unit: string): string {
  return `${figures} ${unitText(unit)}`.trim()
}

function seenText({ seen, unit }: KnownSetting): string {
  const values = seen.flatMap((figure) => convert(figure.value, figure.unit, unit) ?? [])
  const [low, high] = [Math.min(...values), Math.max(...values)]
  if (values.length === 0) return ''
  return withUnit(low === high ? exact(low) : `${exact(low)} to ${exact(high)}`, unit)
}

function KindDialog({ known, onClose }: { readonly known: KnownSetting; readonly onClose: () => void }): ReactNode {
  const { kind } = known
  const apply = useApply()
  const [fields, setFields] = useState({
    domain: kind?.domain ?? '', shape: known.shape, unit: known.unit, level: known.level, step: figureText(kind?.step), usualLow: figureText(kind?.usualLow), usualHigh: figureText(kind?.usualHigh), modes: linesOf(known.modes),
  })
  const put = (changed: Partial<typeof fields>): void => setFields({ ...fields, ...changed })
  const [low, high] = [typedFigure(fields.usualLow), typedFigure(fields.usualHigh)]
  const problem =
    (fields.unit.trim() !== '' && readUnit(fields.unit) === null ? `No unit here is called "${fields.unit.trim()}": V, mV, MHz, GHz, W, A, MT/s, cycles, ns, rpm, % and the like are known.` : undefined) ??
    figureProblem(fields.step, { name: 'The step', above: 0 }) ??
    figureProblem(fields.usualLow, { name: 'The lower end' }) ??
    figureProblem(fields.usualHigh, { name: 'The upper end' }) ??
    ((low === undefined) !== (high === undefined) ? 'A usual range has both ends, or none.' : undefined) ??
    ((low ?? 0) > (high ?? 0) && low !== undefined && high !== undefined ? 'The lower end must not be above the upper.' : undefined)
  return (
    <FormDialog
      title={known.key}
      act="Keep"
      busy={apply.isPending}
      error={apply.error}
      problem={problem}
      onClose={onClose}
      onSend={() => {
        const figure = (key: 'step' | 'usualLow' | 'usualHigh'): Partial<SettingKind> => {
          const value = typedFigure(fields[key])
          return value == null ? {} : { [key]: value }
        }
        const modes = typedLines(fields.modes)
        const after: SettingKind = {
          kind: 'setting kind', id: kind?.id ?? newId(), name: known.key, shape: fields.shape, unit: readUnit(fields.unit) ?? '', level: fields.level,
          ...(fields.domain.trim() === '' ? {} : { domain: fields.domain.trim() }),
          ...(fields.shape === 'mode' ? (modes.length === 0 ? {} : { modes }) : { ...figure('step'), ...figure('usualLow'), ...figure('usualHigh') }),
          ...(kind?.note === undefined ? {} : { note: kind.note }),
        }
        apply.mutate({ what: `Described the setting ${known.key}`, items: [{ before: kind, after }] }, { onSuccess: onClose })
      }}
    >
      <TextField label="Domain" hint="What it is grouped under: core voltage, memory timing." value={fields.domain} onValue={(domain) => put({ domain })} maxLength={100} />
      <ChoiceField label="It is" value={fields.shape} choices={settingKindSchema.shape.shape.options.map((shape) => ({ value: shape, text: SHAPE_WORDS[shape] }))} onValue={(value) => put({ shape: settingKindSchema.shape.shape.catch(fields.shape).parse(value) })} />
      <ChoiceField label="It is set for" value={fields.level} choices={LEVELS.map((level) => ({ value: level, text: level === 'machine' ? 'the whole machine' : `each ${level}` }))} onValue={(value) => put({ level: LEVELS.find((level) => level === value) ?? fields.level })} />
      {fields.shape === 'mode' ? (
        <LinesField label="Names that it takes" hint="One on each line." value={fields.modes} onValue={(modes) => put({ modes })} maxLength={2000} />
      ) : (
        <>
          <TextField label="Unit" value={fields.unit} onValue={(unit) => put({ unit })} maxLength={20} />
          <TextField label="Step in which boards take it" value={fields.step} onValue={(step) => put({ step })} figure />
          <div className="sides">
            <TextField label="Usually from" value={fields.usualLow} onValue={(usualLow) => put({ usualLow })} figure />
            <TextField label="to" value={fields.usualHigh} onValue={(usualHigh) => put({ usualHigh })} figure />
          </div>
        </>
      )}
    </FormDialog>
  )
}

const LEVELS = ['machine', 'package', 'core group', 'core', 'channel', 'module'] as const

function figureText(value: number | undefined): string {
  return value === undefined ? '' : String(value)
}
