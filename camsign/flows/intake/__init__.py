"""Cards in: brings the cards, pixels and formats rooms together."""

from camsign.flows.intake.result import IngestResult, Question
from camsign.flows.intake.run import ingest

__all__ = ["IngestResult", "Question", "ingest"]
