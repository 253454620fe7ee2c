// Tunes: what each asks for, and how that differs from the tune it builds on.
import type { ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import type { TuneRow } from '@guardband/model/api'
import { counted } from '@guardband/model/figures'
import { settingText, type Setting } from '@guardband/model/records/tune'
import { useHub } from '../hub/queries.ts'
import { Ledger } from '../pieces/ledger.tsx'
import { MarginNote, Page } from '../shell/page.tsx'
import { Empty, Loaded } from '../shell/states.tsx'

export function TunesPage(): ReactNode {
  const tunes = useHub('tunes')
  const rows = tunes.data?.rows
  return (
    <Page
      crumbs={[{ text: 'Tunes' }]}
      name="Tunes"
      headline={rows === undefined ? 'Tunes' : rows.length === 0 ? 'No tunes yet.' : sumUp(rows)}
      margin={
        <MarginNote title="Asked is not applied">
          <p>What stands here was asked for. What was in force, and how that is known, stands with every run: a board may clamp a value, or start at safe defaults without a word.</p>
        </MarginNote>
      }
    >
      <Loaded query={tunes} what="the tunes">
        {(reply) => (reply.rows.length === 0 ? <NoTunes /> : reply.rows.map((row) => <TuneSection key={row.tune.id} row={row} all={reply.rows} />))}
      </Loaded>
    </Page>
  )
}

function sumUp(rows: readonly TuneRow[]): string {
  const untried = rows.filter((row) => row.runs === 0).length
  const rest = untried === 0 ? 'each of them has run' : untried === rows.length ? 'none has run yet' : `${untried} not run yet`
  return `${counted(rows.length, 'tune')}; ${rest}.`
}

function NoTunes(): ReactNode {
  return (
    <Empty>
      <p>Tunes come with the runs that name them, or with a rig's plan.</p>
      <p>
        <Link className="button button-main" to="/runs/take">
          Take in a file of runs
        </Link>
      </p>
    </Empty>
  )
}

function TuneSection({ row, all }: { readonly row: TuneRow; readonly all: readonly TuneRow[] }): ReactNode {
  const base = all.find((other) => other.tune.id === row.tune.baseId)
  const below = base === undefined ? new Map<string, Setting>() : settingsOf(base, all)
  return (
    <section className="sheet">
      <h2 className="with-side">
        {row.tune.name} {row.baseName === null ? null : <small>on {row.baseName}</small>}
        <small className="side">
          {counted(row.starts, 'start')} · {counted(row.runs, 'run')}
        </small>
      </h2>
      {row.tune.note === undefined ? null : <p className="soft">{row.tune.note}</p>}
      {row.tune.settings.length === 0 ? (
        <p className="soft">{row.baseName === null ? 'Asks for nothing: the machine as it comes.' : `Asks for nothing beyond ${row.baseName}.`}</p>
      ) : (
        <Ledger
          label={`Settings of ${row.tune.name}`}
          even
          columns={[
            { header: 'setting', render: (setting) => <SettingName setting={setting} /> },
            { header: 'asked', render: (setting) => <span className="figure">{settingText(setting.asked)}</span> },
            ...(row.baseName === null
              ? []
              : [
                  {
                    header: `in ${row.baseName}`,
                    render: (setting: Setting) => {
                      const before = below.get(keyOf(setting))
                      return before === undefined ? <span className="soft">not asked for</span> : <span className="figure">{settingText(before.asked)}</span>
                    },
                  },
                ]),
          ]}
          rows={row.tune.settings}
          keyOf={keyOf}
          quiet={(setting) => asksNothingNew(setting, below.get(keyOf(setting)))}
        />
      )}
    </section>
  )
}

/** The place of a setting is said where there is more than one of it: "core 3", "channel A". */
function SettingName({ setting }: { readonly setting: Setting }): ReactNode {
  const { level, index } = setting.scope
  const place = index === undefined ? (level === 'machine' || level === 'package' ? '' : `every ${level}`) : `${level} ${index}`
  return (
    <>
      {setting.key} {place === '' ? null : <span className="soft">{place}</span>}
    </>
  )
}

/** Steps back in the list, so that what a tune changes is seen first. */
function asksNothingNew(setting: Setting, before: Setting | undefined): boolean {
  return before !== undefined && (setting.asked.shape === 'unchanged' || settingText(setting.asked) === settingText(before.asked))
}

function keyOf(setting: Setting): string {
  return `${setting.key}|${setting.scope.level}|${setting.scope.index ?? ''}`
}

/** Everything a tune asks for with what lies below it; a ring of bases ends where it began. */
function settingsOf(row: TuneRow, all: readonly TuneRow[]): Map<string, Setting> {
  const chain: TuneRow[] = []
  for (let at: TuneRow | undefined = row; at !== undefined && !chain.includes(at); ) {
    chain.unshift(at)
    const baseId: string | undefined = at.tune.baseId
    at = all.find((other) => other.tune.id === baseId)
  }
  return new Map(chain.flatMap((tuneRow) => tuneRow.tune.settings.map((setting) => [keyOf(setting), setting] as const)))
}
