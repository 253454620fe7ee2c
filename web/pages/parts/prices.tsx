// The dated prices of a part or bin: the latest counts, the others stay as they were; one can be added.
import { useState, type ReactNode } from 'react'
import { latestPrice } from '@guardband/model/bins'
import type { Bin, Part } from '@guardband/model/records/parts'
import { useApply } from '../../hub/apply.ts'
import { useHub } from '../../hub/queries.ts'
import { amountText } from '../../pieces/amounts.ts'
import { TextField } from '../../pieces/field.tsx'
import { FormDialog } from '../../pieces/form-dialog.tsx'
import { figureProblem, typedFigure } from '../../pieces/typed-figure.ts'
import { Day } from '../../pieces/when.tsx'
import { DateField } from './date-field.tsx'
import { dayMoment, isDay, today } from './moments.ts'

export function LatestPrice({ of }: { readonly of: Pick<Part, 'prices'> }): ReactNode {
  const currency = useHub('lab').data?.lab.currency ?? ''
  const price = latestPrice(of)
  return price === undefined ? (
    <>no price yet</>
  ) : (
    <>
      {amountText(price.amount, currency)} on <Day at={price.at} />
    </>
  )
}

export function EarlierPrices({ of }: { readonly of: Pick<Part, 'prices'> }): ReactNode {
  const currency = useHub('lab').data?.lab.currency ?? ''
  const latest = latestPrice(of)
  const earlier = of.prices.filter((price) => price !== latest).toSorted((a, b) => Date.parse(b.at) - Date.parse(a.at))
  if (earlier.length === 0) return null
  return (
    <details className="more-quiet">
      <summary>earlier prices</summary>
      <ul className="plain">
        {earlier.map((price) => (
          <li key={`${price.at}|${price.amount}`}>
            <Day at={price.at} /> <span className="figure">{amountText(price.amount, currency)}</span>
          </li>
        ))}
      </ul>
    </details>
  )
}

export function PriceDialog({ of, onClose }: { readonly of: Part | Bin; readonly onClose: () => void }): ReactNode {
  const apply = useApply()
  const currency = useHub('lab').data?.lab.currency ?? ''
  const [amount, setAmount] = useState('')
  const [day, setDay] = useState(() => today(new Date()))
  const [tried, setTried] = useState(false)
  const amountProblem = figureProblem(amount, { name: 'The price', needed: true, least: 0 })
  const dayProblem = isDay(day) ? undefined : 'The price needs its day.'
  const send = (): void => {
    setTried(true)
    const value = typedFigure(amount)
    if (amountProblem !== undefined || dayProblem !== undefined || typeof value !== 'number') return
    const after = { ...of, prices: [...of.prices, { amount: value, at: dayMoment(day) }] }
    apply.mutate({ what: `New price of ${of.name}: ${amountText(value, currency)} from ${day} on`, items: [{ before: of, after }] }, { onSuccess: onClose })
  }
  return (
    <FormDialog title={`New price of ${of.name}`} explain="The price with the latest date counts. Earlier ones stay: answers given with them can be read again." act="Add it" busy={apply.isPending} error={apply.error} onClose={onClose} onSend={send}>
      <TextField label={currency === '' ? 'Price' : `Price, ${currency}`} figure value={amount} onValue={setAmount} problem={tried ? amountProblem : figureProblem(amount, { name: 'The price', least: 0 })} />
      <DateField label="From" to="day" value={day} onValue={setDay} problem={tried ? dayProblem : undefined} />
    </FormDialog>
  )
}
