// A person's word on what is in force, where nothing can be read back or where what was read differs.
import { settingText, type PlanTune } from '@guardband/model'
import type { RigContext } from './rig-context.ts'

export type PersonsWord = 'confirmed' | 'denied' | 'nobody there'

/** Shows the settings asked for and what was read of them, one remark a line, then asks. Without a terminal it asks nobody and says so. */
export async function confirmInForce(context: RigContext, { name, settings }: PlanTune, remarks: readonly string[]): Promise<PersonsWord> {
  if (!context.people.present) return 'nobody there'
  const lines = [`tune "${name}" asks for${settings.length === 0 ? ' settings that the plan does not list' : ''}:`, ...settings.map((setting) => `    ${settingLine(setting)}`), ...remarks.map((remark) => `    ${remark}`)]
  const question = remarks.length === 0 ? 'Look at the machine: is this what is in force?' : 'Look at the machine: are the settings asked for in force all the same?'
  const { answer } = await context.ask({ kind: 'choice', step: `tune ${name}`, text: [...lines, question].join('\n'), words: ['yes', 'no'] })
  return answer === 'yes' ? 'confirmed' : 'denied'
}

function settingLine({ key, scope, asked }: PlanTune['settings'][number]): string {
  const where = scope.level === 'machine' ? '' : ` (${scope.level}${scope.index === undefined ? '' : ` ${scope.index}`})`
  return `${key}${where}: ${settingText(asked)}`
}
