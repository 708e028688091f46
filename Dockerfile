# One image for web, worker and sweep; runs as a user without rights.
FROM python:3.11-slim

ENV PYTHONUNBUFFERED=1 PYTHONDONTWRITEBYTECODE=1 PIP_NO_CACHE_DIR=1 \
    DATA_DIR=/data COLLECTED_STATIC=1 STATIC_ROOT=/srv/static

RUN useradd --system --uid 10001 --home-dir /srv/app --shell /usr/sbin/nologin shop \
    && mkdir -p /data /srv/static \
    && chown shop:shop /data /srv/static
WORKDIR /srv/app
COPY requirements.txt .
RUN pip install -r requirements.txt
COPY . .
USER shop
# The key only serves this build step; the running service takes SECRET_KEY from outside.
RUN SECRET_KEY=build-step-only python manage.py collectstatic --no-input
VOLUME /data
EXPOSE 8000
CMD ["gunicorn", "shopdiag.wsgi", "--bind", "0.0.0.0:8000", "--workers", "3", "--threads", "4", "--timeout", "120", "--worker-tmp-dir", "/dev/shm"]
