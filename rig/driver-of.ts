// Which driver carries a workload out.
import { SpokenError } from '@guardband/model'
import { commandWorkload } from './command-workload.ts'
import type { Driver, DriverOrder } from './driver.ts'
import { promptWorkload } from './prompt-workload.ts'
import { selfCheckWorkload } from './self-check.ts'

export function driverOf(order: DriverOrder): Driver {
  const { name, command, prompt, selfCheck } = order.workload
  if (command !== undefined) return commandWorkload(order, command)
  if (prompt !== undefined) return promptWorkload(order, prompt)
  if (selfCheck !== undefined) return selfCheckWorkload(order, selfCheck)
  // planSteps refuses such a plan before anything of it is carried out.
  throw new SpokenError({ code: 'plan-content', place: `workload ${name}`, message: 'nothing says how it is carried out.', mend: 'Give it a command, a prompt or a selfCheck.' })
}
