from tests.paper.conftest import fixture_heading, fixture_mixed, fixture_template

__all__ = ["fixture_heading", "fixture_mixed", "fixture_template"]
