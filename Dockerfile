FROM python:3.11-slim-bookworm AS build
WORKDIR /build
RUN python -m venv /venv
COPY pyproject.toml README.md LICENSE ./
# The dependencies alone first, so that a change of the program does not fetch them again.
RUN /venv/bin/python -c "import tomllib; print('\n'.join(tomllib.load(open('pyproject.toml', 'rb'))['project']['dependencies']))" > dependencies.txt \
 && /venv/bin/pip install --no-cache-dir --disable-pip-version-check -r dependencies.txt

FROM python:3.11-slim-bookworm
RUN useradd --uid 10001 --no-create-home --shell /usr/sbin/nologin sweetground \
 && install -d -o sweetground -g sweetground -m 700 /data
COPY --from=build /venv /venv
WORKDIR /app
COPY manage.py pyproject.toml LICENSE ./
COPY agronomy agronomy
COPY plots plots
COPY soiltests soiltests
COPY amendments amendments
COPY config config
COPY templates templates
COPY static static
RUN python -m compileall -q /app
ENV PATH=/venv/bin:$PATH PYTHONUNBUFFERED=1 PYTHONDONTWRITEBYTECODE=1 SWEETGROUND_DATA=/data
USER 10001
VOLUME /data
EXPOSE 8000
HEALTHCHECK --interval=30s --timeout=5s --start-period=60s \
  CMD ["python", "-c", "import urllib.request; urllib.request.urlopen('http://127.0.0.1:8000/readyz', timeout=4)"]
CMD ["python", "manage.py", "start", "--host", "0.0.0.0"]
