FROM python:3.13-slim
ENV PYTHONUNBUFFERED=1 PYTHONDONTWRITEBYTECODE=1
WORKDIR /app
COPY requirements.lock .
RUN pip install --no-cache-dir --require-hashes -r requirements.lock
COPY . .
# The house keys made while the static files are collected belong to nobody and do not stay in the image.
RUN python manage.py collectstatic --noinput --verbosity 0 && rm -f var/keys.json \
    && useradd --system --no-create-home studio && mkdir /erased /files && chown -R studio var /erased /files
USER studio
EXPOSE 8000
CMD ["python", "-m", "gunicorn", "studio.wsgi", "--bind", "0.0.0.0:8000", "--worker-class", "gthread", "--workers", "2", "--threads", "4", "--no-control-socket"]
