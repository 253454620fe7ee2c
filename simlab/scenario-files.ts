// Reads the fixed scenario files that lie beside this package's sources.
import { readdirSync, readFileSync } from 'node:fs'
import { SpokenError } from '@guardband/model'
import { z } from 'zod'
import { scenarioSchema } from './scenario.ts'
import type { Scenario } from './scenario.ts'

/** All scenarios, by name. Throws `bad-scenario` with file, place and rule. */
export function readScenarios(folder: URL = SCENARIO_FOLDER): readonly Scenario[] {
  return readdirSync(folder)
    .filter((file) => file.endsWith('.json'))
    .toSorted()
    .map((file) => readScenarioFile(new URL(file, folder), file))
}

const SCENARIO_FOLDER = new URL('./scenarios/', import.meta.url)

function readScenarioFile(url: URL, file: string): Scenario {
  const parsed = scenarioSchema.safeParse(JSON.parse(readFileSync(url, 'utf8')))
  if (!parsed.success) throw new SpokenError({ code: 'bad-scenario', message: `${file} must be a scenario; got ${z.prettifyError(parsed.error)}` })
  if (`${parsed.data.name}.json` !== file) {
    throw new SpokenError({ code: 'bad-scenario', message: `${file} must be named after its scenario; got ${parsed.data.name}` })
  }
  return parsed.data
}
