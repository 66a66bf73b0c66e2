"""Plan documents as a rider reads them: with text in place of every sentence."""

from __future__ import annotations

from typing import Any

from resupply.report.document import document as made
from resupply.report.document.in_words import in_words


def plan_document(*arguments: Any, **options: Any) -> dict[str, Any]:
    return in_words(made.plan_document(*arguments, **options))
