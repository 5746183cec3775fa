-- A logbook as the first version wrote it, its migration's tables and rows. Never changed.
BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0001');
CREATE TABLE bike_files (
	id INTEGER NOT NULL, 
	bike_id INTEGER NOT NULL, 
	document JSON NOT NULL, 
	written DATETIME NOT NULL, 
	CONSTRAINT pk_bike_files PRIMARY KEY (id), 
	CONSTRAINT fk_bike_files_bike_id FOREIGN KEY(bike_id) REFERENCES bikes (id)
);
INSERT INTO "bike_files" VALUES(1,1,'{"name": "Chalk Pit 400", "strokes": 4, "cylinders": 2, "displacement_cc": 398.0, "plug": {"type": "short reach", "nose_mm": 14.0}}','2026-11-25 00:59:29.078036');
CREATE TABLE bikes (
	id INTEGER NOT NULL, 
	name VARCHAR NOT NULL, 
	CONSTRAINT pk_bikes PRIMARY KEY (id), 
	CONSTRAINT uq_bikes_name UNIQUE (name)
);
INSERT INTO "bikes" VALUES(1,'Chalk Pit 400');
CREATE TABLE builds (
	id INTEGER NOT NULL, 
	bike_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	what VARCHAR NOT NULL, 
	written DATETIME NOT NULL, 
	CONSTRAINT pk_builds PRIMARY KEY (id), 
	CONSTRAINT fk_builds_bike_id FOREIGN KEY(bike_id) REFERENCES bikes (id), 
	CONSTRAINT uq_builds_bike_id_number UNIQUE (bike_id, number)
);
INSERT INTO "builds" VALUES(1,1,1,'as it came','2026-11-25 00:59:29.077325');
INSERT INTO "builds" VALUES(2,1,2,'head','2026-11-25 00:59:29.117163');
CREATE TABLE fittings (
	id INTEGER NOT NULL, 
	plug VARCHAR NOT NULL, 
	bike_id INTEGER, 
	cylinder INTEGER NOT NULL, 
	state VARCHAR NOT NULL, 
	fitted INTEGER NOT NULL, 
	type VARCHAR, 
	nose_mm FLOAT, 
	heat_range INTEGER, 
	written DATETIME NOT NULL, 
	CONSTRAINT pk_fittings PRIMARY KEY (id), 
	CONSTRAINT fk_fittings_bike_id FOREIGN KEY(bike_id) REFERENCES bikes (id), 
	CONSTRAINT fk_fittings_fitted FOREIGN KEY(fitted) REFERENCES sessions (id)
);
INSERT INTO "fittings" VALUES(1,'A1',1,1,'new',1,NULL,NULL,NULL,'2026-11-25 00:59:29.123794');
CREATE TABLE marks (
	id INTEGER NOT NULL, 
	session_id INTEGER NOT NULL, 
	t_s FLOAT NOT NULL, 
	what VARCHAR NOT NULL, 
	"by" VARCHAR NOT NULL, 
	utc DATETIME NOT NULL, 
	CONSTRAINT pk_marks PRIMARY KEY (id), 
	CONSTRAINT fk_marks_session_id FOREIGN KEY(session_id) REFERENCES sessions (id)
);
INSERT INTO "marks" VALUES(1,1,30.0,'chop','hand','2026-05-14 09:20:30.000000');
CREATE TABLE part_states (
	id INTEGER NOT NULL, 
	session_id INTEGER NOT NULL, 
	t_s FLOAT NOT NULL, 
	part VARCHAR NOT NULL, 
	state VARCHAR NOT NULL, 
	CONSTRAINT pk_part_states PRIMARY KEY (id), 
	CONSTRAINT fk_part_states_session_id FOREIGN KEY(session_id) REFERENCES sessions (id)
);
CREATE TABLE plug_pulls (
	id INTEGER NOT NULL, 
	fitting_id INTEGER NOT NULL, 
	session_id INTEGER NOT NULL, 
	order_lost BOOLEAN NOT NULL, 
	written DATETIME NOT NULL, 
	CONSTRAINT pk_plug_pulls PRIMARY KEY (id), 
	CONSTRAINT fk_plug_pulls_fitting_id FOREIGN KEY(fitting_id) REFERENCES fittings (id), 
	CONSTRAINT fk_plug_pulls_session_id FOREIGN KEY(session_id) REFERENCES sessions (id), 
	CONSTRAINT uq_plug_pulls_fitting_id UNIQUE (fitting_id)
);
INSERT INTO "plug_pulls" VALUES(1,1,1,0,'2026-11-25 00:59:29.135300');
CREATE TABLE readings (
	id INTEGER NOT NULL, 
	fitting_id INTEGER NOT NULL, 
	session_id INTEGER NOT NULL, 
	written DATETIME NOT NULL, 
	ring VARCHAR NOT NULL, 
	ring_mm FLOAT, 
	ring_sd_mm FLOAT, 
	"view" VARCHAR NOT NULL, 
	nose_colour VARCHAR, 
	base_ring VARCHAR, 
	strap_mark FLOAT, 
	specks VARCHAR NOT NULL, 
	edge VARCHAR, 
	glaze BOOLEAN, 
	blisters BOOLEAN, 
	wet BOOLEAN, 
	gap_mm FLOAT, 
	piston_wash VARCHAR, 
	note VARCHAR, 
	corrects INTEGER, 
	CONSTRAINT pk_readings PRIMARY KEY (id), 
	CONSTRAINT fk_readings_corrects FOREIGN KEY(corrects) REFERENCES readings (id), 
	CONSTRAINT fk_readings_fitting_id FOREIGN KEY(fitting_id) REFERENCES fittings (id), 
	CONSTRAINT fk_readings_session_id FOREIGN KEY(session_id) REFERENCES sessions (id), 
	CONSTRAINT uq_readings_corrects UNIQUE (corrects)
);
INSERT INTO "readings" VALUES(1,1,1,'2026-11-25 00:59:29.128298','seen',6.2,0.4,'cut',NULL,NULL,NULL,'not-looked',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "readings" VALUES(2,1,1,'2026-11-25 00:59:29.132228','seen',6.4,0.4,'cut',NULL,NULL,NULL,'not-looked',NULL,NULL,NULL,NULL,NULL,NULL,NULL,1);
CREATE TABLE scale_statements (
	id INTEGER NOT NULL, 
	bike_id INTEGER NOT NULL, 
	build INTEGER NOT NULL, 
	plug_type VARCHAR, 
	nose_mm FLOAT, 
	depth_mm FLOAT NOT NULL, 
	sd_mm FLOAT NOT NULL, 
	lambda_ FLOAT NOT NULL, 
	written DATETIME NOT NULL, 
	CONSTRAINT pk_scale_statements PRIMARY KEY (id), 
	CONSTRAINT fk_scale_statements_bike_id FOREIGN KEY(bike_id) REFERENCES bikes (id)
);
INSERT INTO "scale_statements" VALUES(1,1,2,'short reach',14.0,6.0,1.0,0.87,'2026-11-25 00:59:29.136864');
CREATE TABLE sessions (
	id INTEGER NOT NULL, 
	started DATETIME NOT NULL, 
	bike_id INTEGER, 
	build INTEGER, 
	place VARCHAR, 
	seconds FLOAT NOT NULL, 
	samples INTEGER NOT NULL, 
	state VARCHAR NOT NULL, 
	source VARCHAR NOT NULL, 
	ending VARCHAR NOT NULL, 
	sha256 VARCHAR, 
	notes JSON NOT NULL, 
	CONSTRAINT pk_sessions PRIMARY KEY (id), 
	CONSTRAINT ck_sessions_state CHECK (state IN ('recording', 'interrupted', 'sealed')), 
	CONSTRAINT fk_sessions_bike_id FOREIGN KEY(bike_id) REFERENCES bikes (id)
);
INSERT INTO "sessions" VALUES(1,'2026-05-14 09:20:00.000000',1,1,'pit lane',60.0,61,'sealed','ride.csv','.csv','0000000000000000000000000000000000000000000000000000000000000001','[]');
CREATE TABLE setup_files (
	id INTEGER NOT NULL, 
	session_id INTEGER NOT NULL, 
	document JSON NOT NULL, 
	written DATETIME NOT NULL, 
	CONSTRAINT pk_setup_files PRIMARY KEY (id), 
	CONSTRAINT fk_setup_files_session_id FOREIGN KEY(session_id) REFERENCES sessions (id)
);
INSERT INTO "setup_files" VALUES(1,1,'{"kind": "practice", "fuel": "e5", "all": {"main_jet": 160.0}, "cylinder": {"2": {"main_jet": 165.0}}}','2026-11-25 00:59:29.119556');
CREATE INDEX ix_bike_files_bike_id ON bike_files (bike_id);
CREATE INDEX ix_scale_statements_bike_id ON scale_statements (bike_id);
CREATE INDEX ix_sessions_bike_id_started ON sessions (bike_id, started);
CREATE INDEX ix_sessions_sha256 ON sessions (sha256);
CREATE INDEX ix_fittings_bike_id ON fittings (bike_id);
CREATE INDEX ix_fittings_plug ON fittings (plug);
CREATE INDEX ix_marks_session_id ON marks (session_id);
CREATE INDEX ix_part_states_session_id ON part_states (session_id);
CREATE INDEX ix_setup_files_session_id ON setup_files (session_id);
CREATE INDEX ix_readings_fitting_id ON readings (fitting_id);
CREATE INDEX ix_readings_session_id ON readings (session_id);
COMMIT;
