// A plan: everything a rig needs to work alone. A person may write it by hand: things are named, and a design spares listing the steps.
import { z } from 'zod'
import { commandSchema, observableSchema, readingSchema } from './command.ts'
import { contentDigest } from './digest.ts'
import { SpokenError } from './errors.ts'
import { finiteSchema, nameSchema } from './records/base.ts'
import { smallestGainSchema } from './records/lab.ts'
import { originSchema, pickedSchema, slotSchema } from './records/parts.ts'
import { ceilingSchema } from './records/safety.ts'
import { conditionsSchema, startHowSchema } from './records/start.ts'
import { settingSchema } from './records/tune.ts'
import { directionSchema } from './records/workload.ts'
import { expandDesign } from './design.ts'
import { planFaults } from './plan-faults.ts'

export const planTuneSchema = z.strictObject({
  name: nameSchema,
  settings: z.array(settingSchema).default([]),
  /** Puts the tune in force; without it a person is asked to. */
  apply: commandSchema.optional(),
  /** Nothing runs in a start until these match. */
  readBack: z.array(observableSchema).default([]),
  /** A person lets it pass the plan's own ceilings, and says why; a rig's are never passed. */
  override: z.strictObject({ reason: z.string().trim().min(1).max(2000), by: nameSchema }).optional(),
})
export type PlanTune = z.infer<typeof planTuneSchema>

export const planWorkloadSchema = z.strictObject({
  name: nameSchema,
  group: z.string().max(100).optional(),
  version: z.string().max(100).optional(),
  preset: z.string().max(200).optional(),
  threads: z.int().positive().optional(),
  /** Exactly one of the three carries it out. Of a command whose workload has no measure, status 0 is a pass. */
  command: commandSchema.optional(),
  /** A person does it, as this text says, and types what came out. */
  prompt: z.strictObject({ text: z.string().min(1).max(2000) }).optional(),
  /** A kernel of the rig's own, which verifies itself: passes or errors, with its exposure. */
  selfCheck: z.strictObject({ kernel: nameSchema, seconds: finiteSchema.positive().max(7 * 24 * 3600) }).optional(),
  measures: z
    .array(
      z.strictObject({
        name: nameSchema,
        unit: z.string().min(1).max(20),
        direction: directionSchema,
        resolution: finiteSchema.positive().optional(),
        matters: finiteSchema.positive().optional(),
        reading: readingSchema,
      }),
    )
    .max(50)
    .default([]),
  /** Weight in the suite that the plan forms of its workloads. */
  weight: finiteSchema.positive().default(1),
})
export type PlanWorkload = z.infer<typeof planWorkloadSchema>

const stepIdSchema = z.string().regex(/^[a-z0-9][a-z0-9.-]{0,63}$/, 'must be a step id: lower-case letters, digits, dots and hyphens')

export const stepSchema = z.discriminatedUnion('kind', [
  /** Puts a tune in force and opens a start. */
  z.strictObject({ id: stepIdSchema, kind: z.literal('change'), tune: nameSchema, start: startHowSchema }),
  /** Puts another tune in force within the open start, live: what runs after it belongs to that tune. */
  z.strictObject({ id: stepIdSchema, kind: z.literal('adjust'), tune: nameSchema }),
  /** One execution of a workload in the open start. */
  z.strictObject({ id: stepIdSchema, kind: z.literal('run'), workload: nameSchema }),
  /** Asks a person; nothing goes on until they answer. */
  z.strictObject({ id: stepIdSchema, kind: z.literal('prompt'), text: z.string().min(1).max(2000) }),
  /** Walks one setting from value to value until a workload fails. */
  z.strictObject({
    id: stepIdSchema,
    kind: z.literal('ladder'),
    tunes: z.array(nameSchema).min(1).max(500),
    workload: nameSchema,
    repeats: z.int().positive().max(1000),
    start: startHowSchema,
    stopAfterFailures: z.int().positive().max(100),
    /** After the climb has failed: back down, a rung at a time, until one holds for so many runs without a failure. */
    stepDown: z.strictObject({ repeats: z.int().positive().max(1000) }).optional(),
  }),
])
export type Step = z.infer<typeof stepSchema>

export const designSchema = z.strictObject({
  tunes: z.array(nameSchema).min(1).max(100),
  workloads: z.array(nameSchema).min(1).max(100),
  startsPerTune: z.int().positive().max(1000),
  repeats: z.int().positive().max(1000),
  start: startHowSchema.default('live'),
})
export type Design = z.infer<typeof designSchema>

/** How an unattended plan goes on after a crash. */
export const planLimitsSchema = z.strictObject({
  /** Before it goes on after a restart, time for a person to stop it. */
  graceSeconds: finiteSchema.min(0).max(3600).default(30),
  /** With so many restarts of the machine within an hour the plan stops. */
  restartsPerHour: z.int().positive().max(60).default(6),
  /** After so many crashes a tune has failed: what it has left is not run, and the plan goes on. */
  crashesPerTune: z.int().positive().max(100).default(2),
})
export type PlanLimits = z.infer<typeof planLimitsSchema>

export const planTrainingSchema = z.strictObject({
  command: commandSchema.optional(),
  /** Must read full, restored, failed or fallback; anything else counts as unknown. */
  result: readingSchema,
  tries: readingSchema.optional(),
  seconds: readingSchema.optional(),
  postCode: readingSchema.optional(),
})
export type PlanTraining = z.infer<typeof planTrainingSchema>

export const planCeilingSchema = ceilingSchema.omit({ kind: true, id: true, partId: true })
export type PlanCeiling = z.infer<typeof planCeilingSchema>

export const planMachineSchema = z.strictObject({
  /** Reads the tested machine's boot id, another one after each restart; a command that fails or stays silent means that the machine doesn't answer. */
  boot: z.strictObject({ command: commandSchema, reading: readingSchema }),
  /** Silent for so long, it hangs. */
  silenceSeconds: finiteSchema.positive().max(3600).default(60),
  /** How it is brought up: powered off and on, restarted. Without them, and for a restored start always, a person is asked. */
  powerOn: z.strictObject({ cold: commandSchema.optional(), warm: commandSchema.optional() }).default({}),
  /** Brings a hung machine back (a power switch, a clear contact), in this order, each given `recoverSeconds` until the machine answers. */
  recover: z.array(commandSchema).max(10).default([]),
  recoverSeconds: finiteSchema.positive().max(3600).default(300),
})
export type PlanMachine = z.infer<typeof planMachineSchema>

export const planSchema = z.strictObject({
  schema: z.literal(1),
  id: nameSchema,
  title: nameSchema,
  rig: nameSchema,
  /** What sits in the machine. At least the slot whose samples will be compared. */
  assembly: z
    .array(
      z.strictObject({
        slot: slotSchema,
        part: nameSchema,
        sample: nameSchema,
        batch: z.string().max(100).optional(),
        origin: originSchema.default('unknown'),
        picked: pickedSchema.default('unknown'),
      }),
    )
    .min(1),
  conditions: conditionsSchema.default({}),
  tunes: z.array(planTuneSchema).min(1).max(500),
  workloads: z.array(planWorkloadSchema).min(1).max(200),
  /** The smallest gain that matters, fixed with the plan; comparisons between its tunes start from it. */
  smallestGain: smallestGainSchema.optional(),
  design: designSchema.optional(),
  steps: z.array(stepSchema).max(100_000).optional(),
  /** The tune that the others are changes on. Where it is named, no start goes further from it, in any setting, than one that crashed. */
  base: nameSchema.optional(),
  limits: planLimitsSchema.optional(),
  /** What the tested machine tells of its last memory training, asked at each start that had a power-on before it. */
  training: planTrainingSchema.optional(),
  /** No tune of the plan may pass them; a rig's own hold as well, and the tighter wins. */
  ceilings: z.array(planCeilingSchema).max(200).optional(),
  /** Where the rig is a healthy second machine and the tested one runs nothing of ours. */
  machine: planMachineSchema.optional(),
})
export type Plan = z.infer<typeof planSchema>

/**
 * The plan's steps: those it lists, or those its design unfolds to. Throws a sentence when a step names a tune or workload that the plan
 * doesn't have, when a run comes before any change, when ids repeat, or when a workload or a reading can't be carried out (`planFaults`).
 */
export function planSteps(plan: Plan): readonly Step[] {
  for (const { path, rule, mend } of planFaults(plan)) throw new SpokenError({ code: 'plan-content', place: `plan ${plan.id}`, message: `${path} ${rule}.`, mend })
  if ((plan.design === undefined) === (plan.steps === undefined)) {
    throw new SpokenError({ code: 'plan-steps', place: `plan ${plan.id}`, message: 'a plan must have either a design or steps.', mend: plan.design === undefined ? 'Add one of the two.' : 'Keep one of the two.' })
  }
  const steps = plan.steps ?? expandDesign(plan.design ?? missingDesign())
  checkNames(plan, steps)
  return steps
}

/** Names this plan's exact content in every journal. */
export function planHash(plan: Plan): string {
  return contentDigest(plan)
}

function missingDesign(): never {
  throw new RangeError('design must be there; got undefined')
}

function checkNames(plan: Plan, steps: readonly Step[]): void {
  const tunes = uniqueNames(plan.tunes, 'tune', plan.id)
  const workloads = uniqueNames(plan.workloads, 'workload', plan.id)
  // Here first: the steps that a design unfolds to have ids that nobody wrote.
  for (const tune of plan.design?.tunes ?? []) if (!tunes.has(tune)) throw unknownName(`plan ${plan.id}, design.tunes`, 'tune', tune, tunes)
  for (const workload of plan.design?.workloads ?? []) if (!workloads.has(workload)) throw unknownName(`plan ${plan.id}, design.workloads`, 'workload', workload, workloads)
  const seen = new Set<string>()
  let opened = false
  for (const step of steps) {
    const place = `plan ${plan.id}, step ${step.id}`
    if (seen.has(step.id)) throw new SpokenError({ code: 'plan-step-twice', place, message: 'this step id is used twice.', mend: 'Give each step its own id.' })
    seen.add(step.id)
    const named = step.kind === 'change' || step.kind === 'adjust' ? [step.tune] : step.kind === 'ladder' ? step.tunes : []
    for (const tune of named) if (!tunes.has(tune)) throw unknownName(place, 'tune', tune, tunes)
    if ((step.kind === 'run' || step.kind === 'ladder') && !workloads.has(step.workload)) throw unknownName(place, 'workload', step.workload, workloads)
    if ((step.kind === 'run' || step.kind === 'adjust') && !opened) {
      throw new SpokenError({ code: 'plan-run-first', place, message: `a ${step.kind === 'run' ? 'run' : 'live change'} comes before any tune is put in force.`, mend: 'Begin with a change step.' })
    }
    if (step.kind === 'change') opened = true
    // A ladder closes its last start behind it.
    if (step.kind === 'ladder') opened = false
  }
}

function uniqueNames(items: readonly { readonly name: string }[], what: string, plan: string): ReadonlySet<string> {
  const names = new Set<string>()
  for (const { name } of items) {
    if (names.has(name)) throw new SpokenError({ code: 'plan-name-twice', place: `plan ${plan}`, message: `two ${what}s are called "${name}".`, mend: 'Rename one.' })
    names.add(name)
  }
  return names
}

function unknownName(place: string, what: string, name: string, known: ReadonlySet<string>): SpokenError {
  return new SpokenError({ code: 'plan-unknown-name', place, message: `there is no ${what} "${name}" in this plan.`, mend: `It has: ${[...known].join(', ')}.` })
}
