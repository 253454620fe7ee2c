// Ceilings: what no tune may pass, by domain.
import { useState, type ReactNode } from 'react'
import { settingKey } from '@guardband/model/ceilings'
import { counted, exact } from '@guardband/model/figures'
import { nearest } from '@guardband/model/nearest'
import { slotSchema, type Slot } from '@guardband/model/records/parts'
import type { Ceiling } from '@guardband/model/records/safety'
import { unitText } from '@guardband/model/units'
import { useApply } from '../../hub/apply.ts'
import { newId } from '../../hub/new-id.ts'
import { useHub } from '../../hub/queries.ts'
import { useRecords } from '../../hub/use-records.ts'
import { ChoiceField, LinesField, TextField } from '../../pieces/field.tsx'
import { FormDialog } from '../../pieces/form-dialog.tsx'
import { Ledger } from '../../pieces/ledger.tsx'
import { figureProblem, typedFigure, untypedFigure } from '../../pieces/typed-figure.ts'
import { linesOf, typedLines } from '../../pieces/typed-lines.ts'
import { MarginNote } from '../../shell/page.tsx'
import { Empty, Loaded } from '../../shell/states.tsx'
import { LabFrame } from './lab-frame.tsx'

export function LabCeilingsPage(): ReactNode {
  const { query, records } = useRecords('ceiling')
  const parts = useHub('parts').data?.rows.map(({ part }) => part) ?? []
  const known = useHub('knownSettings').data?.settings.map(({ key }) => key)
  const [chosen, setChosen] = useState<Ceiling | 'new' | null>(null)
  return (
    <LabFrame
      name="Ceilings"
      headline={records === undefined ? 'Ceilings' : records.length === 0 ? 'No ceiling is set: nothing holds a tune back.' : `${counted(records.length, 'ceiling')} over ${counted(new Set(records.flatMap(({ settings }) => settings.map((key) => key.toLowerCase()))).size, 'setting')}.`}
      meta={
        <button type="button" className="button button-main" onClick={() => setChosen('new')}>
          Set a ceiling
        </button>
      }
      margin={
        <>
          <MarginNote title="No protective device">
            <p>A ceiling keeps a tune from being entered and a plan from being run. It stops no fault: where something can burn, an independent cut-out has to.</p>
          </MarginNote>
          <MarginNote title="Makers know first">
            <p>Put the maker's figure in, and where it stands. The rig keeps ceilings of its own; the tighter of the two wins.</p>
          </MarginNote>
        </>
      }
    >
      <Loaded query={query} what="the ceilings">
        {() =>
          records === undefined || records.length === 0 ? (
            <Empty>
              <p>A ceiling bounds every setting of one domain, core voltage or package power, for all parts or one. A tune past it is refused unless a person lets it pass and says why; the reason stays in every report.</p>
            </Empty>
          ) : (
            <Ledger
              label="Ceilings"
              columns={[
                { header: 'domain', render: (ceiling) => ceiling.name },
                { header: 'settings', wide: true, render: ({ settings }) => (
                  <>
                    {settings.join(', ')}
                    {unknownSentences(settings, known).map((sentence) => (
                      <small key={sentence}> {sentence}</small>
                    ))}
                  </>
                ) },
                { header: 'from', align: 'number', render: ({ lowest, unit }) => boundText(lowest, unit), empty: ({ lowest }) => lowest === undefined },
                { header: 'to', align: 'number', render: ({ highest, unit }) => boundText(highest, unit), empty: ({ highest }) => highest === undefined },
                { header: 'holds for', render: (ceiling) => holdsFor(ceiling, parts) },
                { header: 'source', render: ({ source }) => source ?? <span className="soft">not said</span> },
                {
                  header: 'edit',
                  unseen: true,
                  render: (ceiling) => (
                    <button type="button" className="button-quiet" onClick={() => setChosen(ceiling)} aria-label={`Change the ceiling of ${ceiling.name}`}>
                      Change
                    </button>
                  ),
                },
              ]}
              rows={records}
              keyOf={(ceiling) => ceiling.id}
            />
          )
        }
      </Loaded>
      {chosen === null ? null : <CeilingDialog known={known} ceiling={chosen === 'new' ? null : chosen} parts={parts} onClose={() => setChosen(null)} />}
    </LabFrame>
  )
}

function boundText(value: number | undefined, unit: string): string {
  return value === undefined ? '' : `${exact(value)} ${unitText(unit)}`.trim()
}

const EVERY: Readonly<Record<Slot, string>> = {
  processor: 'every processor', memory: 'every memory kit', board: 'every board', cooler: 'every cooler', graphics: 'every graphics card', storage: 'every drive', supply: 'every supply', other: 'every other part',
}

type PartName = { readonly id: string; readonly name: string }

function holdsFor({ partId, slot, cooling, lowestTemperature, highestTemperature, hours }: Ceiling, parts: readonly PartName[]): string {
  const temperatures =
    lowestTemperature === undefined && highestTemperature === undefined ? [] : [`${lowestTemperature === undefined ? '' : `from ${exact(lowestTemperature)} `}${highestTemperature === undefined ? '' : `to ${exact(highestTemperature)} `}\u00b0C`]
  const what = partId !== undefined ? (parts.find(({ id }) => id === partId)?.name ?? 'a part no longer here') : slot !== undefined ? EVERY[slot] : 'every part'
  return [what, ...(cooling === undefined ? [] : [cooling]), ...temperatures, ...(hours === undefined ? [] : [`${exact(hours)} h at most`])].join(', ')
}

/** A name that nothing has bounds nothing: most often it is mistyped. */
function unknownSentences(settings: readonly string[], known: readonly string[] | undefined): readonly string[] {
  if (known === undefined) return []
  const keys = known.map(settingKey)
  return settings
    .filter((name) => !keys.includes(settingKey(name)))
    .map((name) => {
      const near = nearest(settingKey(name), keys)
      return `This lab knows no setting "${name}", so it bounds nothing yet${near === undefined ? '.' : `; did you mean "${near}"?`}`
    })
}

function CeilingDialog({ ceiling, parts, known, onClose }: { readonly ceiling: Ceiling | null; readonly parts: readonly PartName[]; readonly known: readonly string[] | undefined; readonly onClose: () => void }): ReactNode {
  const apply = useApply()
  const [fields, setFields] = useState({
    name: ceiling?.name ?? '', settings: linesOf(ceiling?.settings ?? []), unit: ceiling?.unit ?? '', lowest: untypedFigure(ceiling?.lowest), highest: untypedFigure(ceiling?.highest),
    holds: ceiling?.partId ?? (ceiling?.slot === undefined ? '' : `slot ${ceiling.slot}`), cooling: ceiling?.cooling ?? '', lowestTemperature: untypedFigure(ceiling?.lowestTemperature),
    highestTemperature: untypedFigure(ceiling?.highestTemperature), hours: untypedFigure(ceiling?.hours), source: ceiling?.source ?? '',
  })
  const put = (changed: Partial<typeof fields>): void => setFields({ ...fields, ...changed })
  const settings = typedLines(fields.settings)
  const problem =
    (fields.name.trim() === '' ? 'A ceiling needs the name of its domain: core voltage.' : undefined) ??
    (settings.length === 0 ? 'Name at least one setting that it bounds.' : undefined) ??
    (['lowest', 'highest', 'lowestTemperature', 'highestTemperature'] as const).map((key) => figureProblem(fields[key], { name: NAMES[key] })).find((sentence) => sentence !== undefined) ??
    figureProblem(fields.hours, { name: NAMES.hours, above: 0 }) ??
    (typedFigure(fields.lowest) === undefined && typedFigure(fields.highest) === undefined ? 'Give the highest value, the lowest, or both.' : undefined) ??
    ((typedFigure(fields.lowest) ?? Number.NEGATIVE_INFINITY) > (typedFigure(fields.highest) ?? Number.POSITIVE_INFINITY) ? 'The lowest value must not be above the highest.' : undefined)
  const slots: readonly Slot[] = slotSchema.options
  return (
    <FormDialog
      title={ceiling === null ? 'A ceiling' : `The ceiling of ${ceiling.name}`}
      act={ceiling === null ? 'Set it' : 'Keep'}
      busy={apply.isPending}
      error={apply.error}
      problem={problem}
      onClose={onClose}
      onSend={() => {
        const figure = (key: 'lowest' | 'highest' | 'lowestTemperature' | 'highestTemperature' | 'hours'): Partial<Ceiling> => {
          const value = typedFigure(fields[key])
          return value == null ? {} : { [key]: value }
        }
        const slot = slots.find((each) => fields.holds === `slot ${each}`)
        const after: Ceiling = {
          kind: 'ceiling', id: ceiling?.id ?? newId(), name: fields.name.trim(), settings, unit: fields.unit.trim(),
          ...figure('lowest'), ...figure('highest'), ...figure('lowestTemperature'), ...figure('highestTemperature'), ...figure('hours'),
          ...(slot !== undefined ? { slot } : fields.holds === '' ? {} : { partId: fields.holds }),
          ...(fields.cooling.trim() === '' ? {} : { cooling: fields.cooling.trim() }),
          ...(fields.source.trim() === '' ? {} : { source: fields.source.trim() }),
          ...(ceiling?.note === undefined ? {} : { note: ceiling.note }),
        }
        apply.mutate({ what: `${ceiling === null ? 'Set' : 'Changed'} the ceiling of ${after.name}: ${[after.lowest === undefined ? '' : `from ${boundText(after.lowest, after.unit)}`, after.highest === undefined ? '' : `to ${boundText(after.highest, after.unit)}`].filter((part) => part !== '').join(' ')}`, items: [{ before: ceiling, after }] }, { onSuccess: onClose })
      }}
    >
      <div className="sides">
        <TextField label="Domain" hint="Core voltage, memory voltage, package power." value={fields.name} onValue={(name) => put({ name })} />
        <LinesField label="Settings that it bounds" hint={['As tunes call them, one on each line.', ...unknownSentences(settings, known)].join(' ')} value={fields.settings} onValue={(value) => put({ settings: value })} maxLength={1000} />
        <TextField label={NAMES.highest} value={fields.highest} onValue={(highest) => put({ highest })} figure />
        <TextField label={NAMES.lowest} value={fields.lowest} onValue={(lowest) => put({ lowest })} figure />
        <TextField label="Unit" hint="V, mV, W; a tune in mV is held against a bound in V." value={fields.unit} onValue={(unit) => put({ unit })} maxLength={20} />
        <ChoiceField
          label="Holds for"
          value={fields.holds}
          choices={[{ value: '', text: 'every part' }, ...slots.map((slot) => ({ value: `slot ${slot}`, text: EVERY[slot] })), ...parts.map(({ id, name }) => ({ value: id, text: name }))]}
          onValue={(holds) => put({ holds })}
        />
        <TextField label="Way of cooling" hint="As conditions name it; empty: any." value={fields.cooling} onValue={(cooling) => put({ cooling })} />
        <TextField label={NAMES.hours} value={fields.hours} onValue={(hours) => put({ hours })} figure />
        <TextField label={NAMES.lowestTemperature} value={fields.lowestTemperature} onValue={(lowestTemperature) => put({ lowestTemperature })} figure />
        <TextField label={NAMES.highestTemperature} value={fields.highestTemperature} onValue={(highestTemperature) => put({ highestTemperature })} figure />
      </div>
      <TextField label="Where the figure comes from" value={fields.source} onValue={(source) => put({ source })} maxLength={500} />
      {ceiling === null ? null : (
        <p>
          <button type="button" className="button-quiet" onClick={() => apply.mutate({ what: `Took the ceiling of ${ceiling.name} away`, items: [{ before: ceiling, after: null }] }, { onSuccess: onClose })}>
            Take this ceiling away
          </button>
        </p>
      )}
    </FormDialog>
  )
}

const NAMES = { highest: 'Highest value', lowest: 'Lowest value', lowestTemperature: 'Lowest temperature, \u00b0C', highestTemperature: 'Highest temperature, \u00b0C', hours: 'Hours at most' } as const
