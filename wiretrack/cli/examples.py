# SPDX-License-Identifier: MIT
"""Two real examples of each command, shown at the head of its help; they work on the demo's site.

`tests/cli/test_examples.py` runs each of them there.
"""

from __future__ import annotations

EXAMPLES = {
    "demo": ("wiretrack demo", "wiretrack demo mill"),
    "new": (
        'wiretrack --db barn.db new --name "Bay barn"',
        "wiretrack --db quay.db new --name Quay --time-zone Europe/Lisbon",
    ),
    "load": ("wiretrack load site.json --update --look", "wiretrack --db empty.db load site.json"),
    "add": (
        "wiretrack add enclosure SHED kind=box where=quay",
        "wiretrack add circuit SHED-LT --like SLIPLT",
    ),
    "set": (
        "wiretrack set 0AZ-EMTB length=53.5m",
        'wiretrack set MDP/Q4 code=Q6 --why "as the label in the door says"',
    ),
    "export": ("wiretrack export site.xlsx", "wiretrack export --example start"),
    "dump": ("wiretrack dump > site.json", "wiretrack dump --out copy.json"),
    "show": ("wiretrack show 0AZ-EMTB", "wiretrack show MDP"),
    "find": ("wiretrack find head sluice", "wiretrack find MDP --json"),
    "sites": ("wiretrack sites", "wiretrack sites ."),
    "trace": ("wiretrack trace M0H-TA7K", 'wiretrack trace "terminal Q4:4 in MDP" --tree'),
    "isolate": ("wiretrack isolate MDP/Q3", 'wiretrack isolate "breaker 4 in MDP"'),
    "note": (
        'wiretrack note JT1 "lid cracked, new one ordered"',
        'wiretrack note SLUICE "gate sticks below 5 C"',
    ),
    "attach": ("wiretrack attach MDP label.png", "wiretrack attach JT1 label.png"),
    "land": (
        "wiretrack land 0AZ-EMTB SLC --capped",
        'wiretrack land M0H-TA7K "CB1 F1 1" --anyway',
    ),
    "extend": (
        "wiretrack extend HOIST --through PB2 --terminals TB1:1-3,PE:1",
        "wiretrack extend HOIST --through PB2 --capped",
    ),
    "replace": (
        'wiretrack replace QF1-895O --same --length "53.1 m"',
        'wiretrack replace QF1-895O --size "10 AWG" --metal copper --colour red',
    ),
    "retire": (
        "wiretrack retire SLIPLT --abandoned",
        "wiretrack retire YARD --removed --on yesterday",
    ),
    "swap": ("wiretrack swap 6TS-TT6B 6AZ-DCM4 --at JT1",
             "wiretrack swap 6TS-TT6B 6AZ-DCM4 --at JT1 --marks --on today"),
    "undo": ("wiretrack undo", "wiretrack undo --json"),
    "history": ("wiretrack history 0AZ-EMTB", "wiretrack history --since yesterday --limit 50"),
    "ringout plan": ("wiretrack ringout plan P-WHEEL --near CTL --far WPJ",
                     "wiretrack ringout plan P-WHEEL --near CTL --far WPJ --json"),
    "ringout run": (
        "wiretrack ringout run P-WHEEL --near CTL --far WPJ --reference raceway"
        " --far-colours RD,RD,RD,RD,RD,RD",
        "wiretrack ringout run P-SLIP --near BYP --far JT1 --crew 2 --again",
    ),
    "ringout status": (
        "wiretrack ringout status P-WHEEL",
        "wiretrack ringout status P-SLIP --json",
    ),
    "ringout undo": ("wiretrack ringout undo P-WHEEL", "wiretrack ringout undo P-WHEEL --json"),
    "ringout correct": ("wiretrack ringout correct P-WHEEL 2 OL",
                        "wiretrack ringout correct P-WHEEL 3 0.43"),
    "ringout record": ("wiretrack ringout record P-SLIP",
                       "wiretrack ringout record P-SLIP --out slip.html"),
    "test plan": ("wiretrack test plan SLUICE", "wiretrack test plan PUMP --json"),
    "test run": ("wiretrack test run SLUICE", "wiretrack test run PUMP"),
    "test log": (
        'wiretrack test log 0AZ-EMTB --kind continuity 0,3 --leads 0,05 --at "yesterday 14:30"',
        "wiretrack test log 0AZ-EMTB --kind insulation 550M --against PE --test-voltage 500V",
    ),
    "test cautions": ("wiretrack test cautions SLUICE", "wiretrack test cautions PUMP"),
    "label stocks": ("wiretrack label stocks", "wiretrack label stocks --json"),
    "label fit": ("wiretrack label fit M0H-TA7K --stock wrap-26x40-300",
                  "wiretrack label fit HOIST --stock flag-90x25-300"),
    "label preview": ("wiretrack label preview 0AZ-EMTB --stock flag-90x25-300",
                      "wiretrack label preview HOIST --stock flag-90x25-300 --out preview.png"),
    "label print": ("wiretrack label print HOIST --stock flag-90x25-letter --out hoist.pdf",
                    "wiretrack label print 0AZ-EMTB --stock flag-90x25-300 --out label.png"),
    "label due": ("wiretrack label due QF1-895O", "wiretrack label due MDP"),
    "label placed": ("wiretrack label placed HOIST", "wiretrack label placed 6TS-TT6B --end from"),
    "label address": ("wiretrack label address http://192.168.1.20:8080",
                      "wiretrack label address mill.lan"),
    "label calibrate": (
        "wiretrack label calibrate --stock flag-90x25-letter --out page.pdf",
        "wiretrack label calibrate --stock flag-90x25-letter --measured-x 108mm --measured-y 139mm"
        " --save my-stocks.json",
    ),
    "scan": ("wiretrack scan label.png", "wiretrack scan label.png --json"),
    "check": ("wiretrack check SLUICE", "wiretrack check W8"),
    "marking": ("wiretrack marking", "wiretrack marking W1"),
    "punchlist": ("wiretrack punchlist", "wiretrack punchlist MDP"),
    "report": ("wiretrack report --out report.html",
               "wiretrack report HOIST --out hoist.pdf --record hoist.json"),
    "fault": (
        'wiretrack fault QF1-895O --murray 668:332 --good 0AZ-EMTB --temp "18 C"',
        'wiretrack fault QF1-895O --along 0.2 --temp "18 C"',
    ),
    "symptom start": ("wiretrack symptom start insulation-alarm QF1-895O",
                      "wiretrack symptom start dead-circuit QF1-895O"),
    "symptom answer": ("wiretrack symptom answer PUMP yes", "wiretrack symptom answer PUMP cant"),
    "symptom status": ("wiretrack symptom status PUMP", "wiretrack symptom status PUMP --json"),
    "symptom undo": ("wiretrack symptom undo PUMP", "wiretrack symptom undo PUMP --json"),
    "symptom correct": (
        "wiretrack symptom correct PUMP 1 no",
        "wiretrack symptom correct PUMP 1 cant",
    ),
    "trend": (
        "wiretrack trend QF1-895O --kind insulation",
        "wiretrack trend 0AZ-EMTB --svg trend.svg",
    ),
    "string": (
        'wiretrack string PV-S1 --reading "468 V" --cell-temp "45 C"',
        "wiretrack string PV-S2",
    ),
    "expect": (
        "wiretrack expect --size \"2,5 mm2\" --length \"12'6\"",
        "wiretrack expect M0H-TA7K --ohms 0,03",
    ),
    "serve": ("wiretrack serve", "wiretrack serve --host 0.0.0.0 --code @code.txt"),
    "manual": ("wiretrack manual", "wiretrack manual ringout"),
    "binder": ("wiretrack binder binder", "wiretrack binder binder-may --date 2026-05-02"),
    "verify": ("wiretrack verify", "wiretrack verify --json"),
    "backup": ("wiretrack backup copy-of-today.db", "wiretrack backup stick.db --json"),
    "rescue": (
        "wiretrack rescue damaged.db saved.db",
        "wiretrack rescue damaged.db saved.db --json",
    ),
    "merge": ("wiretrack merge other.db", "wiretrack merge other.db --look"),
    "completion": (
        "wiretrack completion bash >> ~/.bashrc",
        "wiretrack completion fish > ~/.config/fish/completions/wiretrack.fish",
    ),
}  # fmt: skip
