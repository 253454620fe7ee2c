// The pages of the lab, in the order of their index. A new one is a line here and a route of the same address in shell/router.tsx.
export const LAB_PAGES = [
  { to: '/lab', text: 'This lab', says: 'Its name and currency, and where it lies.' },
  { to: '/lab/costs', text: 'Change-overs', says: 'What a start, another tune, another sample or a remount costs in minutes: every plan is priced in them.' },
  { to: '/lab/workloads', text: 'Workloads', says: 'What is run, and what each measures: unit, direction, resolution.' },
  { to: '/lab/suites', text: 'Suites', says: 'Which workloads count, and how much.' },
  { to: '/lab/grades', text: 'Grades', says: 'Named levels of holding up, and the evidence that each asks for.' },
  { to: '/lab/ceilings', text: 'Ceilings', says: 'What no tune may pass.' },
  { to: '/lab/keep', text: 'Keep and move', says: 'Backups, everything as a file, a workspace from a file, and the check.' },
  { to: '/lab/devices', text: 'Devices', says: 'Phones and rigs: let in by a code, listed, revoked.' },
  { to: '/lab/changes', text: 'Change log', says: 'Who changed what, when and why; any entry can be undone.' },
] as const
