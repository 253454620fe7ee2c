// The sheet that settings are typed on: one line a setting, what each was read as beside it, and the line at hand below with what is odd about it.
import { memo, useDeferredValue, useEffect, useId, useRef, useState, type KeyboardEvent, type ReactNode } from 'react'
import { settingText, type Setting } from '@guardband/model/records/tune'
import { placeName } from '@guardband/model/settings/differences'
import type { SettingBook } from '@guardband/model/settings/setting-book'
import { settingLine } from '@guardband/model/settings/setting-line'
import type { Mend } from '@guardband/model/settings/typing-guard'
import { unitText } from '@guardband/model/units'
import { keyBeingTyped, type Sheet, type SheetDoubt, type SheetLine } from './sheet-text.ts'

export interface SettingSheetProps {
  readonly text: string
  readonly onText: (text: string) => void
  readonly sheet: Sheet
  readonly book: SettingBook
  readonly onKeep: (doubtId: string) => void
  /** What the base asks for at the same place. */
  readonly below: (setting: Setting) => string | null
}

export function SettingSheet({ text, onText, sheet, book, onKeep, below }: SettingSheetProps): ReactNode {
  const area = useRef<HTMLTextAreaElement>(null)
  const [at, setAt] = useState(0)
  const [dismissed, setDismissed] = useState<string | null>(null)
  const ids = useId()
  const lines = text.split('\n')
  const current = lines[at] ?? ''
  const typed = dismissed === current ? null : keyBeingTyped(current, book)
  const offers = typed === null ? [] : book.suggest(typed, OFFERED)
  const caret = useRef<number | null>(null)
  useEffect(() => {
    if (caret.current === null || area.current === null) return
    area.current.setSelectionRange(caret.current, caret.current)
    caret.current = null
  })

  const follow = (): void => {
    const element = area.current
    if (element === null) return
    const before = element.value.slice(0, element.selectionStart)
    setAt(before.split('\n').length - 1)
    // Back from a line wider than the field, which browsers leave a little scrolled.
    if (before.length - before.lastIndexOf('\n') - 1 < FIRST_COLUMNS) element.scrollLeft = 0
  }
  const putLine = (index: number, line: string): void => {
    const changed = lines.with(index, line)
    caret.current = changed.slice(0, index + 1).join('\n').length
    onText(changed.join('\n'))
    area.current?.focus()
    setAt(index)
  }
  const press = (event: KeyboardEvent<HTMLTextAreaElement>): void => {
    const [first] = offers
    if (event.key === 'Tab' && !event.shiftKey && first !== undefined) {
      event.preventDefault()
      putLine(at, `${first.key} `)
    } else if (event.key === 'Escape' && first !== undefined) {
      event.preventDefault()
      setDismissed(current)
    }
  }
  const line = sheet.lines[at]
  const settled = useDeferredValue(sheet)
  return (
    <div className="setting-sheet">
      <div className="setting-sheet-page">
        <textarea
          ref={area}
          id={`${ids}-area`}
          aria-label="Settings, one a line"
          aria-describedby={`${ids}-hint ${ids}-line`}
          spellCheck={false}
          autoCapitalize="off"
          autoComplete="off"
          wrap="off"
          rows={Math.max(FEWEST_ROWS, lines.length + 1)}
          value={text}
          placeholder={'core ratio = 54\ncore voltage 1.25 V\nfan policy = quiet'}
          onChange={(event) => {
            onText(event.currentTarget.value)
            follow()
          }}
          onSelect={follow}
          onKeyDown={press}
        />
        <ol className="setting-readings" aria-label="What each line was read as">
          {settled.lines.map((each) => (
            // A line that is still being typed is not wrong yet.
            <Reading key={each.index} line={each} mark={each.index === at && each.reading.status === 'unclear' ? '' : markOf(each)} told={each.index === at && each.reading.status === 'unclear' ? '' : toldOf(each, below)} current={each.index === at && text !== ''} />
          ))}
        </ol>
      </div>
      <p className="hint" id={`${ids}-hint`}>
        One setting a line: a figure with its unit, <code>auto</code>, <code>unchanged</code>, or after an equals sign a name. <code>core voltage @ core 3 = 1.27 V</code> is for one core, <code>core ratio 1: 58, 2-4: 56</code> a table. Tab completes a name that the lab knows, Escape leaves it.
      </p>
      <div className={text === '' ? undefined : 'setting-line-panel'} id={`${ids}-line`} aria-live="polite">
        {offers.length > 0 ? (
          <p>
            <kbd>Tab</kbd> {offers.map(({ key, unit }, index) => `${index === 0 ? '' : ' · '}${key}${unit === '' ? '' : `, ${unitText(unit)}`}`).join('')}
          </p>
        ) : line === undefined || line.text.trim() === '' ? null : (
          <CurrentLine line={line} below={below} onKeep={onKeep} onMend={(mend) => putMend(line, mend)} />
        )}
      </div>
    </div>
  )

  function putMend(mended: SheetLine, mend: Mend): void {
    if (mended.reading.status === 'read') putLine(mended.index, settingLine({ ...mended.reading.setting, asked: mend.asked }, mended.reading.known ?? undefined))
  }
}

const FIRST_COLUMNS = 8
const OFFERED = 5
const FEWEST_ROWS = 10

/** The doubts of one line, each with its mends and the way to keep it as typed. */
export function Doubts({ doubts, onKeep, onMend }: { readonly doubts: readonly SheetDoubt[]; readonly onKeep: (id: string) => void; readonly onMend: (mend: Mend) => void }): ReactNode {
  return doubts.map(({ id, doubt, kept }) => (
    <div key={id} className="doubt">
      <p>
        {doubt.sentence}
        {kept ? <span className="soft"> Kept as typed.</span> : null}
      </p>
      {kept ? null : (
        <p className="doubt-acts">
          {doubt.mends.map((mend) => (
            <button key={mend.text} type="button" className="button" onClick={() => onMend(mend)}>
              {mend.text}
            </button>
          ))}
          <button type="button" className="button" onClick={() => onKeep(id)}>
            Meant as typed
          </button>
        </p>
      )}
    </div>
  ))
}

function CurrentLine({ line, below, onKeep, onMend }: { readonly line: SheetLine; readonly below: SettingSheetProps['below']; readonly onKeep: (id: string) => void; readonly onMend: (mend: Mend) => void }): ReactNode {
  return (
    <>
      <p className={line.problem === null ? undefined : 'problem'}>
        <span className="soft">Line {line.index + 1}: </span>
        {line.problem ?? toldOf(line, below)}
      </p>
      <Doubts doubts={line.doubts} onKeep={onKeep} onMend={onMend} />
    </>
  )
}

const Reading = memo(function Reading({ line, mark, told, current }: { readonly line: SheetLine; readonly mark: string; readonly told: string; readonly current: boolean }): ReactNode {
  const tone = mark === '!' ? ' reads-not' : mark === '?' ? ' reads-odd' : ''
  return (
    <li className={`reading-line${tone}${current ? ' reading-current' : ''}`}>
      <span className="reading-mark" aria-hidden="true">
        {mark}
      </span>
      <span className="reading-source">{line.text}</span>
      <span className="reading-told">{told}</span>
    </li>
  )
}, (a, b) => a.mark === b.mark && a.told === b.told && a.current === b.current && a.line.text === b.line.text)

function markOf(line: SheetLine): string {
  if (line.problem !== null) return '!'
  return line.doubts.some(({ kept }) => !kept) ? '?' : ''
}

function toldOf(line: SheetLine, below: SettingSheetProps['below']): string {
  const { reading, problem, doubts } = line
  if (problem !== null) return problem
  if (reading.status !== 'read') return ''
  const open = doubts.find(({ kept }) => !kept)
  if (open !== undefined) return open.doubt.sentence
  const { setting, known, filledUnit } = reading
  const place = placeName(setting.scope)
  const before = below(setting)
  return [
    `${settingText(setting.asked)}${place === '' ? '' : `, ${place}`}`,
    ...(filledUnit === null ? [] : ['unit filled in']),
    ...(known === null ? ['new name'] : []),
    ...(before === null ? [] : [before === settingText(setting.asked) ? 'as in the base' : `base: ${before}`]),
  ].join(' · ')
}
