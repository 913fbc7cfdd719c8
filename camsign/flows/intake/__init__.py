"""Cards in: brings the cards, pixels and formats rooms together."""

from camsign.flows.intake.cards_in import ingest
from camsign.flows.intake.result import IngestResult, Question

__all__ = ["IngestResult", "Question", "ingest"]
