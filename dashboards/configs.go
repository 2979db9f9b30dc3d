package dashboards

// Configurations that put the pieces together. They are examples to begin with; README.md says what to change.

const prometheusConfig = `# Written by plumbline dashboards. For a Prometheus in the vehicle or in the workshop: it scrapes plumbline
# once a second, evaluates the rules and tells an Alertmanager on the same computer.
#
#   prometheus --config.file=prometheus.yml --storage.tsdb.retention.time=30d
#
# Native histograms, if you want them: --enable-feature=native-histograms
global:
  scrape_interval: 1s
  scrape_timeout: 1s
  evaluation_interval: 1s

rule_files:
  - rules/*.yml

alerting:
  alertmanagers:
    - static_configs:
        - targets: ["127.0.0.1:9093"]

scrape_configs:
  - job_name: plumbline
    static_configs:
      # Where runbooks shall open on another computer, write the name under which this one is reached.
      - targets: ["127.0.0.1:8474"]
    # Where plumbline has a web configuration with TLS and passwords:
    # scheme: https
    # basic_auth: {username: prometheus, password_file: plumbline.password}
    # tls_config: {ca_file: plumbline.crt}
`

const agentConfig = `# Written by plumbline dashboards. For a Prometheus in agent mode in the vehicle: it scrapes plumbline, keeps what
# it cannot send, and sends it when there is coverage again. It evaluates no rules and can be asked nothing.
#
#   prometheus --enable-feature=agent --config.file=agent.yml --storage.agent.path=/var/lib/prometheus-agent
#
# What it cannot do: it keeps about two hours, four at the most (--storage.agent.retention.max-time), and less
# where it is restarted while it has a backlog. What is older is gone from the live view. The recording
# on the disk is the record; this is only the live view.
global:
  scrape_interval: 5s
  scrape_timeout: 4s

scrape_configs:
  - job_name: plumbline
    static_configs:
      - targets: ["127.0.0.1:8474"]
        labels:
          # CHANGE: unique in the fleet. All series and the links to runbooks carry it.
          instance: "logger-1.example:8474"

remote_write:
  - url: "https://metrics.example/api/v1/write" # CHANGE
    # CHANGE: basic_auth, authorization or tls_config, as the store wants it.
    remote_timeout: 30s
    queue_config:
      capacity: 20000
      max_samples_per_send: 5000
      max_shards: 4          # a link that comes back shall not be flooded
      batch_send_deadline: 10s
      min_backoff: 1s
      max_backoff: 1m
    write_relabel_configs:
      # Single numbers of channels are the most series and are in the recording anyway: leave them out on a thin link.
      - source_labels: [__name__]
        regex: "plumbline_channel_.*|plumbline_message_.*"
        action: drop
`

const fleetConfig = `# Written by plumbline dashboards. For the Prometheus that all vehicles send to.
#
#   prometheus --config.file=fleet.yml --web.enable-remote-write-receiver
global:
  evaluation_interval: 15s

storage:
  tsdb:
    # A vehicle that comes back sends what is older than what the others sent meanwhile. Without this it is refused
    # from an hour on. Rules are not evaluated again for it: an alarm of the past is not raised.
    out_of_order_time_window: 4h

rule_files:
  - rules/*.yml

alerting:
  alertmanagers:
    - static_configs:
        - targets: ["127.0.0.1:9093"]
`

const alertmanagerConfig = `# Written by plumbline dashboards. An example: who is told what, and which alarm keeps which back.
#
#   alertmanager --config.file=alertmanager.yml        (Debian: prometheus-alertmanager)
#
# CHANGE the receivers: a webhook is shown; mail, chat and pagers are in Alertmanager's documentation.
route:
  receiver: office
  group_by: [vehicle, instance, scope]
  group_wait: 2s        # enough for the cause to arrive beside what it explains
  group_interval: 5s    # what is new within a group: a second wheel must not wait for long
  repeat_interval: 4h
  routes:
    # Data are being lost: whoever sits in the vehicle beside the driver, at once. Never the driver.
    - matchers: [severity="critical"]
      receiver: passenger
      repeat_interval: 10m
      continue: true
    - matchers: [severity=~"critical|warning"]
      receiver: office

receivers:
  - name: passenger
    webhook_configs:
      - url: "http://127.0.0.1:9095/passenger"
  - name: office
    webhook_configs:
      - url: "http://127.0.0.1:9095/office"

inhibit_rules:
  # Nothing comes from the amplifier: every wheel and sensor behind it is silent, and nobody needs forty messages.
  - source_matchers: [alertname="PlumblineAmplifierOff"]
    target_matchers: [scope=~"channel|source"]
    equal: [vehicle]
  # plumbline shows old values: what they say is not news.
  - source_matchers: [alertname="PlumblineStands"]
    target_matchers: [scope=~"channel|source|vehicle"]
    equal: [vehicle]
  # A source cannot be heard: neither are its losses and its load of interest.
  - source_matchers: [alertname="PlumblineSourceDown"]
    target_matchers: [alertname=~"PlumblineBusFault|PlumblineFramesLost|PlumblineBusFull"]
    equal: [vehicle, instance]
  # One wheel is unplugged, or its messages are missing: what its channels do follows from that.
  - source_matchers: [alertname="PlumblineUnplugged"]
    target_matchers: [scope="channel", alertname!="PlumblineUnplugged"]
    equal: [vehicle, subject]
  - source_matchers: [alertname="PlumblineMessageMissing"]
    target_matchers: [alertname=~"PlumblineChannelBad|PlumblineAngleWrong|PlumblineSupply|PlumblineTemperature|PlumblineRing|PlumblineOptics"]
    equal: [vehicle, subject]
  # A plug on the wrong corner makes zero and angle of that corner wrong.
  - source_matchers: [alertname="PlumblineWrongPlace"]
    target_matchers: [alertname=~"PlumblineZeroOff|PlumblineAngleWrong|PlumblineGround"]
    equal: [vehicle, subject]
  # Beyond the limit is more than near to it.
  - source_matchers: [alertname="PlumblineDrift"]
    target_matchers: [alertname="PlumblineDriftNear"]
    equal: [vehicle, subject, channel]
  # The recorder has stopped: that it also lost frames is no news.
  - source_matchers: [alertname="PlumblineRecordingStopped"]
    target_matchers: [alertname=~"PlumblineRecorderLoses|PlumblineDiskFills"]
    equal: [instance]
`

const datasourceProvisioning = `# Written by plumbline dashboards; belongs into /etc/grafana/provisioning/datasources.
apiVersion: 1
datasources:
  - name: Prometheus
    type: prometheus
    access: proxy
    url: http://127.0.0.1:9090
    isDefault: true
    jsonData:
      timeInterval: 1s # the scrape interval: $__rate_interval is made of it
`

const dashboardProvisioning = `# Written by plumbline dashboards; belongs into /etc/grafana/provisioning/dashboards.
apiVersion: 1
providers:
  - name: plumbline
    folder: plumbline
    type: file
    allowUiUpdates: false
    options:
      path: /var/lib/grafana/dashboards/plumbline # CHANGE: where the folder grafana/dashboards was copied to
`
