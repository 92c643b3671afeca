from starlette.testclient import TestClient


def test_there_is_nothing_to_wait_for_at_first(client: TestClient) -> None:
    answer = client.get("/api/jobs")
    assert answer.status_code == 200
    assert answer.json() == []


def test_a_job_that_is_not_there(client: TestClient) -> None:
    answer = client.post("/api/jobs/nothing/stop")
    assert answer.status_code == 404
    assert answer.json()["code"] == "not-found"
