// A settings dump: pasted or dropped, its names mapped once, then kept as a new tune, as what was in force in a start, or only held against a tune.
import { useDeferredValue, useMemo, useState, type DragEvent, type ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import { dumpSettings } from '@guardband/model/dump/dump-settings'
import { mapDump } from '@guardband/model/dump/map-names'
import { MOST_CHARACTERS, readDump } from '@guardband/model/dump/read-dump'
import { SpokenError } from '@guardband/model/errors'
import { counted } from '@guardband/model/figures'
import type { DumpName, Layout } from '@guardband/model/records/layout'
import { settingBook, type SettingBook } from '@guardband/model/settings/setting-book'
import { useHub } from '../../hub/queries.ts'
import { useRecords } from '../../hub/use-records.ts'
import { Field } from '../../pieces/field.tsx'
import { MarginNote, Page } from '../../shell/page.tsx'
import { Failed, Waiting } from '../../shell/states.tsx'
import { DumpNames } from './dump-names.tsx'
import { DumpUse } from './dump-use.tsx'

export function DumpPage(): ReactNode {
  const known = useHub('knownSettings')
  const layouts = useRecords('layout')
  const error = known.error ?? layouts.query.error
  return (
    <Page
      crumbs={[{ text: 'Tunes', to: '/tunes' }, { text: 'Settings dump' }]}
      name="A settings dump"
      headline="What does the board say?"
      margin={
        <>
          <MarginNote title="Any plain layout">
            <p>Colons, equals signs, tabs, dotted leaders, columns, two-column tables, JSON; headings in brackets or by indentation say where. &ldquo;Auto [1.25 V]&rdquo; is asked auto, with 1.25 V in force.</p>
          </MarginNote>
          <MarginNote title="Mapped once">
            <p>Names that you set right are remembered with the layout; the next dump of the same firmware needs no question.</p>
          </MarginNote>
        </>
      }
    >
      {known.data === undefined || layouts.records === undefined ? error === null ? <Waiting what="what the lab knows" /> : <Failed error={error} /> : <DumpDesk known={settingBook(known.data.settings)} layouts={layouts.records} />}
    </Page>
  )
}

interface Given {
  readonly text: string
  readonly file: string
}

function DumpDesk({ known, layouts: freshLayouts }: { readonly known: SettingBook; readonly layouts: readonly Layout[] }): ReactNode {
  const [book] = useState(known)
  const [layouts] = useState(freshLayouts)
  const [given, setGiven] = useState<Given>({ text: '', file: 'settings dump.txt' })
  const [changed, setChanged] = useState<ReadonlyMap<string, DumpName>>(new Map())
  const [over, setOver] = useState(false)
  const [fileProblem, setFileProblem] = useState<string | null>(null)
  const text = useDeferredValue(given.text)
  const read = useMemo(() => readOrSay(text), [text])
  const dump = read.status === 'read' ? read.dump : null
  const mapped = useMemo(() => (dump === null ? null : mapDump({ read: dump, book, layouts })), [dump, book, layouts])
  const names = useMemo(() => mapped?.names.map(({ name }) => changed.get(name.name) ?? name) ?? [], [mapped, changed])
  const settings = useMemo(() => (mapped === null ? null : dumpSettings({ entries: mapped.entries, names, decimal: mapped.decimal, book, known: 'read back' })), [mapped, names, book])
  const drop = (event: DragEvent): void => {
    event.preventDefault()
    setOver(false)
    const [file] = event.dataTransfer.files
    if (file !== undefined) void takeFile(file)
  }
  const takeFile = async (file: File): Promise<void> => {
    if (file.size > MOST_CHARACTERS) return setFileProblem(`${file.name} has ${(file.size / 1e6).toFixed(1)} million bytes; a settings dump has at most ${MOST_CHARACTERS / 1e6} million. Cut it down to the part with the settings.`)
    setFileProblem(null)
    setGiven({ text: await file.text(), file: file.name })
  }
  return (
    <>
      <div className={over ? 'dump-text dump-over' : 'dump-text'} onDragOver={(event) => { event.preventDefault(); setOver(true) }} onDragLeave={() => setOver(false)} onDrop={drop}>
        <Field label="The dump" hint={<>Paste it, drop the file here, or choose it below.</>} problem={fileProblem ?? (read.status === 'refused' ? read.sentence : undefined)}>
          {(control) => <textarea {...control} spellCheck={false} wrap="off" rows={10} value={given.text} placeholder={'[Processor]\nCore ratio ........ 54\nCore voltage ...... Auto [1.25 V]'} onChange={(event) => setGiven({ ...given, text: event.currentTarget.value })} />}
        </Field>
        <input
          type="file"
          aria-label="The dump as a file"
          onChange={(event) => {
            const [file] = event.currentTarget.files ?? []
            if (file !== undefined) void takeFile(file)
          }}
        />
      </div>
      {dump === null || mapped === null || settings === null ? null : (
        <>
          <p role="status">
            {counted(dump.lines.all, 'line')}: {counted(dump.lines.entries, 'setting')}, {counted(dump.lines.headings, 'heading')}, {counted(dump.lines.remarks, 'remark')}, {dump.lines.blank} blank, {dump.lines.unread} unread.{' '}
            {mapped.layout === null ? 'This layout is new here.' : mapped.layout.new === 0 ? `Read as ${mapped.layout.record.name}, as remembered.` : `Read as ${mapped.layout.record.name}, with ${counted(mapped.layout.new, 'new name')}.`}
          </p>
          {dump.unread.length + settings.refused.length === 0 ? null : (
            <details className="more">
              <summary>{counted(dump.unread.length + settings.refused.length, 'line')} not taken</summary>
              <ul className="plain">
                {[...dump.unread, ...settings.refused].slice(0, MOST_SAID).map(({ line, sentence }) => (
                  <li key={`${line} ${sentence}`}>{sentence}</li>
                ))}
              </ul>
            </details>
          )}
          {settings.doubts.length === 0 ? null : (
            <section className="notice">
              <h2>Odd figures in it</h2>
              <ul className="doubt-list">
                {settings.doubts.slice(0, MOST_SAID).map(({ line, key, doubt }) => (
                  <li key={`${line} ${doubt.code}`}>
                    Line {line}, {key}: {doubt.sentence}
                  </li>
                ))}
              </ul>
              <p className="soft">They are kept as the dump has them, and stand in the change log as odd.</p>
            </section>
          )}
          <DumpNames mapped={mapped} names={names} book={book} onName={(name) => setChanged(new Map(changed).set(name.name, name))} onNames={(many) => setChanged(new Map([...changed, ...many.map((name) => [name.name, name] as const)]))} />
          <DumpUse dump={dump} mapped={mapped} names={names} settings={settings} given={given} book={book} />
        </>
      )}
      {given.text !== '' ? null : (
        <p className="soft">
          No dump at hand? <Link to="/tunes/new">Type the settings</Link>.
        </p>
      )}
    </>
  )
}

const MOST_SAID = 30

type ReadState = { readonly status: 'none' } | { readonly status: 'read'; readonly dump: ReturnType<typeof readDump> } | { readonly status: 'refused'; readonly sentence: string }

function readOrSay(text: string): ReadState {
  if (text.trim() === '') return { status: 'none' }
  try {
    return { status: 'read', dump: readDump(text) }
  } catch (error) {
    if (!(error instanceof SpokenError)) throw error
    return { status: 'refused', sentence: error.sentence }
  }
}
