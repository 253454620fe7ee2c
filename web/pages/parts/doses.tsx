// What a sample was given: volts, degrees and hours by setting, as reckoned by the lab, and a dose entered by hand.
import { useState, type ReactNode } from 'react'
import type { RouteOut } from '../../hub/client.ts'
import { exact, fixed } from '@guardband/model/figures'
import type { Sample } from '@guardband/model/records/parts'
import type { Dose } from '@guardband/model/records/safety'
import { useApply } from '../../hub/apply.ts'
import { newId } from '../../hub/new-id.ts'
import { useHub } from '../../hub/queries.ts'
import { ChoiceField, TextField, type Choice } from '../../pieces/field.tsx'
import { FormDialog } from '../../pieces/form-dialog.tsx'
import { Ledger } from '../../pieces/ledger.tsx'
import { figureProblem, typedFigure } from '../../pieces/typed-figure.ts'
import { When } from '../../pieces/when.tsx'
import { Loaded } from '../../shell/states.tsx'
import { DateField } from './date-field.tsx'
import type { DoneAct } from './done.tsx'
import { minuteMoment, minuteText } from './moments.ts'

type Doses = RouteOut<'doses'>

export function DosesSection({ sample, partName, onDone }: { readonly sample: Sample; readonly partName: string; readonly onDone: (act: DoneAct) => void }): ReactNode {
  const doses = useHub('doses', { params: { id: sample.id } })
  const [adding, setAdding] = useState(false)
  return (
    <section className="sheet">
      <h2>What it was given</h2>
      <Loaded query={doses} what="the doses">
        {(reply) => (reply.sums.length === 0 ? <p className="soft">No voltage of it is on record yet. Doses come from what was in force while runs went on, or are entered here.</p> : <Sums doses={reply} />)}
      </Loaded>
      <div className="buttons">
        <button type="button" className="button" onClick={() => setAdding(true)}>
          Add a dose by hand
        </button>
      </div>
      {adding ? (
        <DoseDialog
          sample={sample}
          partName={partName}
          settings={[...new Set((doses.data?.sums ?? []).map(({ setting }) => setting))]}
          onClose={() => setAdding(false)}
          onDone={(act) => {
            onDone(act)
            setAdding(false)
          }}
        />
      ) : null}
    </section>
  )
}

function Sums({ doses }: { readonly doses: Doses }): ReactNode {
  return (
    <>
      <Ledger
        label="Doses by setting"
        columns={[
          { header: 'setting', render: ({ setting }) => setting },
          { header: 'highest, V', align: 'number', render: ({ highestVolts }) => exact(highestVolts) },
          { header: 'hours', align: 'number', render: ({ hours }) => hoursText(hours) },
          { header: 'V \u00d7 h', align: 'number', render: ({ voltHours }) => hoursText(voltHours) },
          { header: 'V \u00d7 degC \u00d7 h', align: 'number', render: ({ voltDegreeHours }) => (voltDegreeHours === null ? 'not known' : hoursText(voltDegreeHours)) },
          { header: 'hours without a temperature', align: 'number', render: ({ hoursWithoutTemperature }) => (hoursWithoutTemperature === 0 ? '' : hoursText(hoursWithoutTemperature)), empty: ({ hoursWithoutTemperature }) => hoursWithoutTemperature === 0 },
        ]}
        rows={doses.sums}
        keyOf={({ setting }) => setting}
      />
      {doses.sums.flatMap(({ setting, allowances }) =>
        allowances.map(({ domain, above, hours, allowed }) => (
          <p key={`${setting}|${domain}|${above}`} className={hours > allowed ? 'problem' : 'soft'}>
            {setting}: {hoursText(hours)} of {exact(allowed)} h allowed above {exact(above)} V ({domain}).
          </p>
        )),
      )}
      {doses.runsWithoutTime === 0 ? null : <p className="soft">{fixed(doses.runsWithoutTime, 0)} runs carry no time; what they gave it is not in these sums.</p>}
      <details className="more-quiet">
        <summary>stretch by stretch</summary>
        <Ledger
          label="Doses, newest first"
          columns={[
            { header: 'when', render: ({ at }) => (at === null ? 'not known' : <When at={at} />) },
            { header: 'in', render: ({ name, from }) => (from === 'entered' ? 'entered by hand' : name) },
            { header: 'setting', render: ({ setting }) => setting },
            { header: 'V', align: 'number', render: ({ volts }) => exact(volts) },
            { header: 'hours', align: 'number', render: ({ hours }) => hoursText(hours) },
            { header: 'degC', align: 'number', render: ({ temperature }) => (temperature === null ? 'not known' : exact(Math.round(temperature * 10) / 10)) },
            { header: 'known', render: ({ known }) => known },
          ]}
          rows={doses.rows.slice(0, MOST_SHOWN)}
          keyOf={({ id, setting, at }) => `${id}|${setting}|${at ?? ''}`}
        />
        {doses.rows.length > MOST_SHOWN ? <p className="soft">and {fixed(doses.rows.length - MOST_SHOWN, 0)} earlier ones.</p> : null}
      </details>
    </>
  )
}

const MOST_SHOWN = 60

/** Sums of products: three figures are more than the voltage's reading supports. */
function hoursText(value: number): string {
  return fixed(value, value >= 100 ? 0 : value >= 10 ? 1 : 2)
}

const KNOWN_CHOICES: readonly Choice[] = ['read back', 'measured', 'seen by a person', 'unverified'].map((value) => ({ value, text: value }))

function DoseDialog(props: { readonly sample: Sample; readonly partName: string; readonly settings: readonly string[]; readonly onClose: () => void; readonly onDone: (act: DoneAct) => void }): ReactNode {
  const { sample } = props
  const apply = useApply()
  const [setting, setSetting] = useState(props.settings[0] ?? 'core voltage')
  const [volts, setVolts] = useState('')
  const [degrees, setDegrees] = useState('')
  const [hours, setHours] = useState('')
  const [known, setKnown] = useState('seen by a person')
  const [when, setWhen] = useState(() => minuteText(new Date()))
  const [tried, setTried] = useState(false)
  const problems = {
    setting: setting.trim() === '' ? 'Say which voltage it was.' : undefined,
    volts: voltsProblem(volts, tried),
    degrees: figureProblem(degrees, { name: 'The temperature', least: -273.15 }),
    hours: figureProblem(hours, { name: 'The hours', above: 0, ...(tried ? { needed: true } : {}) }),
    when: minuteMoment(when) === null ? 'Say when it began.' : undefined,
  }
  const send = (): void => {
    setTried(true)
    const at = minuteMoment(when)
    const [v, degC, h] = [typedFigure(volts), typedFigure(degrees), typedFigure(hours)]
    if (at === null || typeof v !== 'number' || typeof h !== 'number' || degC === null || Object.values(problems).some((problem) => problem !== undefined)) return
    const after: Dose = {
      kind: 'dose', id: newId(), sampleId: sample.id, at, setting: setting.trim(), volts: v, hours: h, known: KNOWN_WORDS.find((word) => word === known) ?? 'unverified',
      ...(degC === undefined ? {} : { temperature: degC }),
    }
    const sentence = `Entered a dose of ${props.partName}, ${sample.label}: ${exact(v)} V for ${exact(h)} h${degC === undefined ? ', temperature not known' : ` at ${exact(degC)} degC`}`
    apply.mutate({ what: sentence, items: [{ before: null, after }] }, { onSuccess: (change) => props.onDone({ change, sentence: `${sentence}.` }) })
  }
  return (
    <FormDialog title={`A dose of ${sample.label}`} explain="For what ran outside of recorded starts: an evening of trying, a night of load." act="Enter it" busy={apply.isPending} error={apply.error} onClose={props.onClose} onSend={send}>
      <TextField label="Setting" value={setting} onValue={setSetting} problem={problems.setting} />
      <TextField label="Volts" figure value={volts} onValue={setVolts} problem={problems.volts} />
      <TextField label="degC" figure value={degrees} onValue={setDegrees} problem={problems.degrees} hint="Leave empty if nobody recorded it; the hours are then told apart." />
      <TextField label="Hours" figure value={hours} onValue={setHours} problem={problems.hours} />
      <DateField label="Began" to="minute" value={when} onValue={setWhen} problem={problems.when} />
      <ChoiceField label="Known by" value={known} choices={KNOWN_CHOICES} onValue={setKnown} />
    </FormDialog>
  )
}

const KNOWN_WORDS = ['read back', 'measured', 'seen by a person', 'unverified'] as const
/** As the record allows; above it, millivolts were typed for volts. */
const MOST_VOLTS = 20

function voltsProblem(text: string, tried: boolean): string | undefined {
  const value = typedFigure(text)
  if (typeof value === 'number' && value > MOST_VOLTS) return `Volts must be at most ${MOST_VOLTS}; got ${text.trim()}. Were they millivolts? Then it is ${exact(value / 1000)}.`
  return figureProblem(text, { name: 'Volts', least: 0, ...(tried ? { needed: true as const } : {}) })
}
