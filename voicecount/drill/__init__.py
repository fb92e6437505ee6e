"""Practice: a student calls a count, is heard, judged line by line, and shown what to do next.

drill file ─▶ Drill ─▶ steps ─▶ session ─▶ what the partner says
                         │         ▲
sound ─▶ Saying ─────────┼─────────┘
            │            ▼
            └─▶ Attempt ─▶ judge ─▶ Judgement ─▶ spoken summary, page, progress, class
"""
