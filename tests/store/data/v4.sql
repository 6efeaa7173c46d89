BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0004');
CREATE TABLE "attempts" (
	id INTEGER NOT NULL, 
	learner_id INTEGER NOT NULL, 
	level INTEGER, 
	started_at DATETIME NOT NULL, 
	finished_at DATETIME NOT NULL, 
	day DATE NOT NULL, 
	duration_s FLOAT NOT NULL, 
	score FLOAT NOT NULL, 
	bars INTEGER NOT NULL, 
	listens INTEGER NOT NULL, 
	paused BOOLEAN NOT NULL, 
	tempo_ratio FLOAT NOT NULL, 
	first_pass BOOLEAN NOT NULL, 
	lag_beats FLOAT, 
	app_version VARCHAR(40) NOT NULL, 
	token VARCHAR(80), 
	home_shift VARCHAR(40), 
	exercise_id INTEGER NOT NULL, 
	seen BOOLEAN NOT NULL, 
	CONSTRAINT pk_attempts PRIMARY KEY (id), 
	CONSTRAINT uq_attempts_learner_id_token UNIQUE (learner_id, token), 
	CONSTRAINT fk_attempts_learner_id_learners FOREIGN KEY(learner_id) REFERENCES learners (id) ON DELETE CASCADE, 
	CONSTRAINT fk_attempts_exercise_id_exercises FOREIGN KEY(exercise_id) REFERENCES exercises (id)
);
INSERT INTO "attempts" VALUES(1,1,1,'2026-03-03 19:28:00.000000','2026-03-03 19:30:00.000000','2026-03-03',120.0,6.43181818181818187873e-01,4,1,0,1.0,0,2.0,'0.1.0','t1',NULL,1,0);
INSERT INTO "attempts" VALUES(2,1,2,'2026-03-04 19:28:00.000000','2026-03-04 19:30:00.000000','2026-03-04',120.0,6.43181818181818187873e-01,4,1,0,1.0,0,2.0,'0.1.0','t2',NULL,2,0);
INSERT INTO "attempts" VALUES(3,1,3,'2026-03-05 19:28:00.000000','2026-03-05 19:30:00.000000','2026-03-05',120.0,6.43181818181818187873e-01,4,1,0,1.0,0,2.0,'0.1.0','t3',NULL,3,0);
INSERT INTO "attempts" VALUES(4,2,1,'2026-03-03 19:28:00.000000','2026-03-03 19:30:00.000000','2026-03-03',120.0,6.43181818181818187873e-01,4,1,0,1.0,0,2.0,'0.1.0','t1',NULL,4,0);
INSERT INTO "attempts" VALUES(5,2,2,'2026-03-04 19:28:00.000000','2026-03-04 19:30:00.000000','2026-03-04',120.0,6.43181818181818187873e-01,4,1,0,1.0,0,2.0,'0.1.0','t2',NULL,5,0);
INSERT INTO "attempts" VALUES(6,2,3,'2026-03-05 19:28:00.000000','2026-03-05 19:30:00.000000','2026-03-05',120.0,6.43181818181818187873e-01,4,1,0,1.0,0,2.0,'0.1.0','t3',NULL,6,0);
CREATE TABLE bar_results (
	attempt_id INTEGER NOT NULL, 
	position INTEGER NOT NULL, 
	reference INTEGER, 
	answer INTEGER, 
	score FLOAT, 
	root FLOAT, 
	quality FLOAT, 
	bass FLOAT, 
	placement FLOAT, 
	articulation FLOAT, 
	meter FLOAT, 
	key_change FLOAT, 
	strict FLOAT, 
	lag_beats FLOAT, 
	played TEXT NOT NULL, 
	written TEXT NOT NULL, 
	confusions JSON NOT NULL, 
	skills JSON NOT NULL, phrase_end FLOAT, section_start FLOAT, 
	CONSTRAINT pk_bar_results PRIMARY KEY (attempt_id, position), 
	CONSTRAINT fk_bar_results_attempt_id_attempts FOREIGN KEY(attempt_id) REFERENCES attempts (id) ON DELETE CASCADE
)
 WITHOUT ROWID

;
INSERT INTO "bar_results" VALUES(1,1,1,1,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,'["1"]','["1"]','[]','["chord 1","feel straight","meter 4/4"]',NULL,1.0);
INSERT INTO "bar_results" VALUES(1,2,2,2,4.72727272727272718189e-01,0.5,0.55,0.5,0.0,1.0,1.0,1.0,0.5,NULL,'["1","5/7"]','["1"]','[["5/7","1"]]','["bass 5/7","chord 1","chord 5","even split","feel straight","meter 4/4"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(1,3,3,3,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,3.0,'["6-"]','["6-"]','[]','["chord 6-","feel straight","meter 4/4"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(1,4,4,4,0.1,0.0,0.25,0.0,1.0,1.0,1.0,1.0,0.0,NULL,'["4"]','["2-"]','[["4","2-"]]','["chord 4","feel straight","meter 4/4"]',1.0,NULL);
INSERT INTO "bar_results" VALUES(2,1,1,1,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,'["1"]','["1"]','[]','["chord 1","feel straight","meter 4/4"]',NULL,1.0);
INSERT INTO "bar_results" VALUES(2,2,2,2,4.72727272727272718189e-01,0.5,0.55,0.5,0.0,1.0,1.0,1.0,0.5,NULL,'["1","5/7"]','["1"]','[["5/7","1"]]','["bass 5/7","chord 1","chord 5","even split","feel straight","meter 4/4"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(2,3,3,3,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,3.0,'["6-"]','["6-"]','[]','["chord 6-","feel straight","meter 4/4"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(2,4,4,4,0.1,0.0,0.25,0.0,1.0,1.0,1.0,1.0,0.0,NULL,'["4"]','["2-"]','[["4","2-"]]','["chord 4","feel straight","meter 4/4"]',1.0,NULL);
INSERT INTO "bar_results" VALUES(3,1,1,1,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,'["1"]','["1"]','[]','["chord 1","feel straight","meter 4/4"]',NULL,1.0);
INSERT INTO "bar_results" VALUES(3,2,2,2,4.72727272727272718189e-01,0.5,0.55,0.5,0.0,1.0,1.0,1.0,0.5,NULL,'["1","5/7"]','["1"]','[["5/7","1"]]','["bass 5/7","chord 1","chord 5","even split","feel straight","meter 4/4"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(3,3,3,3,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,3.0,'["6-"]','["6-"]','[]','["chord 6-","feel straight","meter 4/4"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(3,4,4,4,0.1,0.0,0.25,0.0,1.0,1.0,1.0,1.0,0.0,NULL,'["4"]','["2-"]','[["4","2-"]]','["chord 4","feel straight","meter 4/4"]',1.0,NULL);
INSERT INTO "bar_results" VALUES(4,1,1,1,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,'["1"]','["1"]','[]','["chord 1","feel straight","meter 4/4"]',NULL,1.0);
INSERT INTO "bar_results" VALUES(4,2,2,2,4.72727272727272718189e-01,0.5,0.55,0.5,0.0,1.0,1.0,1.0,0.5,NULL,'["1","5/7"]','["1"]','[["5/7","1"]]','["bass 5/7","chord 1","chord 5","even split","feel straight","meter 4/4"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(4,3,3,3,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,3.0,'["6-"]','["6-"]','[]','["chord 6-","feel straight","meter 4/4"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(4,4,4,4,0.1,0.0,0.25,0.0,1.0,1.0,1.0,1.0,0.0,NULL,'["4"]','["2-"]','[["4","2-"]]','["chord 4","feel straight","meter 4/4"]',1.0,NULL);
INSERT INTO "bar_results" VALUES(5,1,1,1,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,'["1"]','["1"]','[]','["chord 1","feel straight","meter 4/4"]',NULL,1.0);
INSERT INTO "bar_results" VALUES(5,2,2,2,4.72727272727272718189e-01,0.5,0.55,0.5,0.0,1.0,1.0,1.0,0.5,NULL,'["1","5/7"]','["1"]','[["5/7","1"]]','["bass 5/7","chord 1","chord 5","even split","feel straight","meter 4/4"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(5,3,3,3,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,3.0,'["6-"]','["6-"]','[]','["chord 6-","feel straight","meter 4/4"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(5,4,4,4,0.1,0.0,0.25,0.0,1.0,1.0,1.0,1.0,0.0,NULL,'["4"]','["2-"]','[["4","2-"]]','["chord 4","feel straight","meter 4/4"]',1.0,NULL);
INSERT INTO "bar_results" VALUES(6,1,1,1,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,'["1"]','["1"]','[]','["chord 1","feel straight","meter 4/4"]',NULL,1.0);
INSERT INTO "bar_results" VALUES(6,2,2,2,4.72727272727272718189e-01,0.5,0.55,0.5,0.0,1.0,1.0,1.0,0.5,NULL,'["1","5/7"]','["1"]','[["5/7","1"]]','["bass 5/7","chord 1","chord 5","even split","feel straight","meter 4/4"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(6,3,3,3,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,1.0,3.0,'["6-"]','["6-"]','[]','["chord 6-","feel straight","meter 4/4"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(6,4,4,4,0.1,0.0,0.25,0.0,1.0,1.0,1.0,1.0,0.0,NULL,'["4"]','["2-"]','[["4","2-"]]','["chord 4","feel straight","meter 4/4"]',1.0,NULL);
CREATE TABLE confusion_days (
	learner_id INTEGER NOT NULL, 
	day DATE NOT NULL, 
	played TEXT NOT NULL, 
	written TEXT NOT NULL, 
	chords INTEGER NOT NULL, 
	CONSTRAINT pk_confusion_days PRIMARY KEY (learner_id, day, played, written), 
	CONSTRAINT fk_confusion_days_learner_id_learners FOREIGN KEY(learner_id) REFERENCES learners (id) ON DELETE CASCADE
)
 WITHOUT ROWID

;
INSERT INTO "confusion_days" VALUES(1,'2026-03-03','1','1',2);
INSERT INTO "confusion_days" VALUES(1,'2026-03-03','4','2-',1);
INSERT INTO "confusion_days" VALUES(1,'2026-03-03','5/7','1',1);
INSERT INTO "confusion_days" VALUES(1,'2026-03-03','6-','6-',1);
INSERT INTO "confusion_days" VALUES(1,'2026-03-04','1','1',2);
INSERT INTO "confusion_days" VALUES(1,'2026-03-04','4','2-',1);
INSERT INTO "confusion_days" VALUES(1,'2026-03-04','5/7','1',1);
INSERT INTO "confusion_days" VALUES(1,'2026-03-04','6-','6-',1);
INSERT INTO "confusion_days" VALUES(1,'2026-03-05','1','1',2);
INSERT INTO "confusion_days" VALUES(1,'2026-03-05','4','2-',1);
INSERT INTO "confusion_days" VALUES(1,'2026-03-05','5/7','1',1);
INSERT INTO "confusion_days" VALUES(1,'2026-03-05','6-','6-',1);
INSERT INTO "confusion_days" VALUES(2,'2026-03-03','1','1',2);
INSERT INTO "confusion_days" VALUES(2,'2026-03-03','4','2-',1);
INSERT INTO "confusion_days" VALUES(2,'2026-03-03','5/7','1',1);
INSERT INTO "confusion_days" VALUES(2,'2026-03-03','6-','6-',1);
INSERT INTO "confusion_days" VALUES(2,'2026-03-04','1','1',2);
INSERT INTO "confusion_days" VALUES(2,'2026-03-04','4','2-',1);
INSERT INTO "confusion_days" VALUES(2,'2026-03-04','5/7','1',1);
INSERT INTO "confusion_days" VALUES(2,'2026-03-04','6-','6-',1);
INSERT INTO "confusion_days" VALUES(2,'2026-03-05','1','1',2);
INSERT INTO "confusion_days" VALUES(2,'2026-03-05','4','2-',1);
INSERT INTO "confusion_days" VALUES(2,'2026-03-05','5/7','1',1);
INSERT INTO "confusion_days" VALUES(2,'2026-03-05','6-','6-',1);
CREATE TABLE drills (
	learner_id INTEGER NOT NULL, 
	exercise_id INTEGER NOT NULL, 
	token VARCHAR(80) NOT NULL, 
	started_at DATETIME NOT NULL, 
	seen_at DATETIME NOT NULL, 
	speeds JSON NOT NULL, 
	position_s FLOAT, 
	paused BOOLEAN NOT NULL, 
	worked_s FLOAT NOT NULL, 
	text TEXT NOT NULL, 
	text_at DATETIME, 
	stamps TEXT NOT NULL, 
	CONSTRAINT pk_drills PRIMARY KEY (learner_id, exercise_id), 
	CONSTRAINT fk_drills_learner_id_learners FOREIGN KEY(learner_id) REFERENCES learners (id) ON DELETE CASCADE, 
	CONSTRAINT fk_drills_exercise_id_exercises FOREIGN KEY(exercise_id) REFERENCES exercises (id)
);
INSERT INTO "drills" VALUES(1,3,'Wren Halloway''s next','2026-03-02 19:30:00.000000','2026-03-02 19:30:00.000000','[80]',4.5,0,0.0,'1 1 ♭7','2026-03-02 19:30:00.000000','');
INSERT INTO "drills" VALUES(2,6,'Zoë Ångström''s next','2026-03-02 19:30:00.000000','2026-03-02 19:30:00.000000','[80]',4.5,0,0.0,'1 1 ♭7','2026-03-02 19:30:00.000000','');
CREATE TABLE exercises (
	id INTEGER NOT NULL, 
	"key" VARCHAR(200) NOT NULL, 
	owner_id INTEGER NOT NULL, 
	song VARCHAR(64) NOT NULL, 
	level INTEGER, 
	origin VARCHAR(20) NOT NULL, 
	title TEXT NOT NULL, 
	data JSON NOT NULL, 
	CONSTRAINT pk_exercises PRIMARY KEY (id), 
	CONSTRAINT fk_exercises_owner_id_learners FOREIGN KEY(owner_id) REFERENCES learners (id) ON DELETE CASCADE, 
	CONSTRAINT uq_exercises_owner_id_key UNIQUE (owner_id, "key")
);
INSERT INTO "exercises" VALUES(1,'millrace-1',1,'7a8209d40a832e1fa3c920d19099c23da95920cab429926337d1ea9720de9268',1,'generated','Second Lamp past the Sluice','{"id":"millrace-1","level":1,"recipe":{"size":"phrase","styles":["straight pop"],"meters":[],"keys":[],"chords":["1","4","5","6-"],"favour":[],"extensions":0.0,"minor":0.0,"phrase_bars":4,"odd_lengths":[2,3,5,6,7],"variety":0.0,"least_chords":1,"needs":[],"features":{"splits":0.0,"uneven_splits":0.0,"slash_chords":0.0,"odd_phrases":0.0,"holds":0.0,"pushes":0.0,"stops":0.0,"short_bars":0.0,"key_change":0.0,"tag":0.0,"later_changes":0.0},"band":"small","help":{"bass_lift_db":0.0,"tonic_first":false,"count_off":true},"listens":2,"loop":false,"ask":"everything"},"seed":1,"generator_version":"1","skills":["bass 5/7","chord 1","chord 4","chord 5","chord 6-","even split","feel straight","meter 4/4"],"chart":{"title":"Second Lamp past the Sluice","meter":"4/4","tempo":96.0,"feel":"straight","key":"D","text":"title: Second Lamp past the Sluice\nmeter: 4/4\ntempo: 96\nfeel: straight\nkey: D\n\nVerse 1:\n1 1_5/7 6- 4\n","sections":[{"name":"Verse 1","kind":"verse","phrases":[{"bars":[{"meter":"4/4","key_change":0,"events":[{"chord":"1","degree":"1","quality":"","extension":"","bass":null,"beats":"4","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"1","degree":"1","quality":"","extension":"","bass":null,"beats":"2","articulation":null},{"chord":"5/7","degree":"5","quality":"","extension":"","bass":"7","beats":"2","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"6-","degree":"6","quality":"-","extension":"","bass":null,"beats":"4","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"4","degree":"4","quality":"","extension":"","bass":null,"beats":"4","articulation":null}]}]}]}]}}');
INSERT INTO "exercises" VALUES(2,'millrace-2',1,'12b161bada484adb5b4816cd884a9a2c96f7afdb6c53e1686f7628ba484f761e',2,'generated','Second Lamp past the Sluice (2)','{"id":"millrace-2","level":2,"recipe":{"size":"phrase","styles":["straight pop"],"meters":[],"keys":[],"chords":["1","4","5","6-"],"favour":[],"extensions":0.0,"minor":0.0,"phrase_bars":4,"odd_lengths":[2,3,5,6,7],"variety":0.0,"least_chords":1,"needs":[],"features":{"splits":0.0,"uneven_splits":0.0,"slash_chords":0.0,"odd_phrases":0.0,"holds":0.0,"pushes":0.0,"stops":0.0,"short_bars":0.0,"key_change":0.0,"tag":0.0,"later_changes":0.0},"band":"small","help":{"bass_lift_db":0.0,"tonic_first":false,"count_off":true},"listens":2,"loop":false,"ask":"everything"},"seed":2,"generator_version":"1","skills":["bass 5/7","chord 1","chord 4","chord 5","chord 6-","even split","feel straight","meter 4/4"],"chart":{"title":"Second Lamp past the Sluice (2)","meter":"4/4","tempo":96.0,"feel":"straight","key":"D","text":"title: Second Lamp past the Sluice (2)\nmeter: 4/4\ntempo: 96\nfeel: straight\nkey: D\n\nVerse 1:\n1 1_5/7 6- 4\n","sections":[{"name":"Verse 1","kind":"verse","phrases":[{"bars":[{"meter":"4/4","key_change":0,"events":[{"chord":"1","degree":"1","quality":"","extension":"","bass":null,"beats":"4","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"1","degree":"1","quality":"","extension":"","bass":null,"beats":"2","articulation":null},{"chord":"5/7","degree":"5","quality":"","extension":"","bass":"7","beats":"2","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"6-","degree":"6","quality":"-","extension":"","bass":null,"beats":"4","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"4","degree":"4","quality":"","extension":"","bass":null,"beats":"4","articulation":null}]}]}]}]}}');
INSERT INTO "exercises" VALUES(3,'millrace-3',1,'ed76de14873e5ee54d145a51fafaf248d24da8994a2e8975e7ac21412a24a72f',3,'generated','Second Lamp past the Sluice (3)','{"id":"millrace-3","level":3,"recipe":{"size":"phrase","styles":["straight pop"],"meters":[],"keys":[],"chords":["1","4","5","6-"],"favour":[],"extensions":0.0,"minor":0.0,"phrase_bars":4,"odd_lengths":[2,3,5,6,7],"variety":0.0,"least_chords":1,"needs":[],"features":{"splits":0.0,"uneven_splits":0.0,"slash_chords":0.0,"odd_phrases":0.0,"holds":0.0,"pushes":0.0,"stops":0.0,"short_bars":0.0,"key_change":0.0,"tag":0.0,"later_changes":0.0},"band":"small","help":{"bass_lift_db":0.0,"tonic_first":false,"count_off":true},"listens":2,"loop":false,"ask":"everything"},"seed":3,"generator_version":"1","skills":["bass 5/7","chord 1","chord 4","chord 5","chord 6-","even split","feel straight","meter 4/4"],"chart":{"title":"Second Lamp past the Sluice (3)","meter":"4/4","tempo":96.0,"feel":"straight","key":"D","text":"title: Second Lamp past the Sluice (3)\nmeter: 4/4\ntempo: 96\nfeel: straight\nkey: D\n\nVerse 1:\n1 1_5/7 6- 4\n","sections":[{"name":"Verse 1","kind":"verse","phrases":[{"bars":[{"meter":"4/4","key_change":0,"events":[{"chord":"1","degree":"1","quality":"","extension":"","bass":null,"beats":"4","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"1","degree":"1","quality":"","extension":"","bass":null,"beats":"2","articulation":null},{"chord":"5/7","degree":"5","quality":"","extension":"","bass":"7","beats":"2","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"6-","degree":"6","quality":"-","extension":"","bass":null,"beats":"4","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"4","degree":"4","quality":"","extension":"","bass":null,"beats":"4","articulation":null}]}]}]}]}}');
INSERT INTO "exercises" VALUES(4,'millrace-1',2,'7a8209d40a832e1fa3c920d19099c23da95920cab429926337d1ea9720de9268',1,'generated','Second Lamp past the Sluice','{"id":"millrace-1","level":1,"recipe":{"size":"phrase","styles":["straight pop"],"meters":[],"keys":[],"chords":["1","4","5","6-"],"favour":[],"extensions":0.0,"minor":0.0,"phrase_bars":4,"odd_lengths":[2,3,5,6,7],"variety":0.0,"least_chords":1,"needs":[],"features":{"splits":0.0,"uneven_splits":0.0,"slash_chords":0.0,"odd_phrases":0.0,"holds":0.0,"pushes":0.0,"stops":0.0,"short_bars":0.0,"key_change":0.0,"tag":0.0,"later_changes":0.0},"band":"small","help":{"bass_lift_db":0.0,"tonic_first":false,"count_off":true},"listens":2,"loop":false,"ask":"everything"},"seed":1,"generator_version":"1","skills":["bass 5/7","chord 1","chord 4","chord 5","chord 6-","even split","feel straight","meter 4/4"],"chart":{"title":"Second Lamp past the Sluice","meter":"4/4","tempo":96.0,"feel":"straight","key":"D","text":"title: Second Lamp past the Sluice\nmeter: 4/4\ntempo: 96\nfeel: straight\nkey: D\n\nVerse 1:\n1 1_5/7 6- 4\n","sections":[{"name":"Verse 1","kind":"verse","phrases":[{"bars":[{"meter":"4/4","key_change":0,"events":[{"chord":"1","degree":"1","quality":"","extension":"","bass":null,"beats":"4","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"1","degree":"1","quality":"","extension":"","bass":null,"beats":"2","articulation":null},{"chord":"5/7","degree":"5","quality":"","extension":"","bass":"7","beats":"2","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"6-","degree":"6","quality":"-","extension":"","bass":null,"beats":"4","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"4","degree":"4","quality":"","extension":"","bass":null,"beats":"4","articulation":null}]}]}]}]}}');
INSERT INTO "exercises" VALUES(5,'millrace-2',2,'12b161bada484adb5b4816cd884a9a2c96f7afdb6c53e1686f7628ba484f761e',2,'generated','Second Lamp past the Sluice (2)','{"id":"millrace-2","level":2,"recipe":{"size":"phrase","styles":["straight pop"],"meters":[],"keys":[],"chords":["1","4","5","6-"],"favour":[],"extensions":0.0,"minor":0.0,"phrase_bars":4,"odd_lengths":[2,3,5,6,7],"variety":0.0,"least_chords":1,"needs":[],"features":{"splits":0.0,"uneven_splits":0.0,"slash_chords":0.0,"odd_phrases":0.0,"holds":0.0,"pushes":0.0,"stops":0.0,"short_bars":0.0,"key_change":0.0,"tag":0.0,"later_changes":0.0},"band":"small","help":{"bass_lift_db":0.0,"tonic_first":false,"count_off":true},"listens":2,"loop":false,"ask":"everything"},"seed":2,"generator_version":"1","skills":["bass 5/7","chord 1","chord 4","chord 5","chord 6-","even split","feel straight","meter 4/4"],"chart":{"title":"Second Lamp past the Sluice (2)","meter":"4/4","tempo":96.0,"feel":"straight","key":"D","text":"title: Second Lamp past the Sluice (2)\nmeter: 4/4\ntempo: 96\nfeel: straight\nkey: D\n\nVerse 1:\n1 1_5/7 6- 4\n","sections":[{"name":"Verse 1","kind":"verse","phrases":[{"bars":[{"meter":"4/4","key_change":0,"events":[{"chord":"1","degree":"1","quality":"","extension":"","bass":null,"beats":"4","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"1","degree":"1","quality":"","extension":"","bass":null,"beats":"2","articulation":null},{"chord":"5/7","degree":"5","quality":"","extension":"","bass":"7","beats":"2","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"6-","degree":"6","quality":"-","extension":"","bass":null,"beats":"4","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"4","degree":"4","quality":"","extension":"","bass":null,"beats":"4","articulation":null}]}]}]}]}}');
INSERT INTO "exercises" VALUES(6,'millrace-3',2,'ed76de14873e5ee54d145a51fafaf248d24da8994a2e8975e7ac21412a24a72f',3,'generated','Second Lamp past the Sluice (3)','{"id":"millrace-3","level":3,"recipe":{"size":"phrase","styles":["straight pop"],"meters":[],"keys":[],"chords":["1","4","5","6-"],"favour":[],"extensions":0.0,"minor":0.0,"phrase_bars":4,"odd_lengths":[2,3,5,6,7],"variety":0.0,"least_chords":1,"needs":[],"features":{"splits":0.0,"uneven_splits":0.0,"slash_chords":0.0,"odd_phrases":0.0,"holds":0.0,"pushes":0.0,"stops":0.0,"short_bars":0.0,"key_change":0.0,"tag":0.0,"later_changes":0.0},"band":"small","help":{"bass_lift_db":0.0,"tonic_first":false,"count_off":true},"listens":2,"loop":false,"ask":"everything"},"seed":3,"generator_version":"1","skills":["bass 5/7","chord 1","chord 4","chord 5","chord 6-","even split","feel straight","meter 4/4"],"chart":{"title":"Second Lamp past the Sluice (3)","meter":"4/4","tempo":96.0,"feel":"straight","key":"D","text":"title: Second Lamp past the Sluice (3)\nmeter: 4/4\ntempo: 96\nfeel: straight\nkey: D\n\nVerse 1:\n1 1_5/7 6- 4\n","sections":[{"name":"Verse 1","kind":"verse","phrases":[{"bars":[{"meter":"4/4","key_change":0,"events":[{"chord":"1","degree":"1","quality":"","extension":"","bass":null,"beats":"4","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"1","degree":"1","quality":"","extension":"","bass":null,"beats":"2","articulation":null},{"chord":"5/7","degree":"5","quality":"","extension":"","bass":"7","beats":"2","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"6-","degree":"6","quality":"-","extension":"","bass":null,"beats":"4","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"4","degree":"4","quality":"","extension":"","bass":null,"beats":"4","articulation":null}]}]}]}]}}');
CREATE TABLE "learners" (
	id INTEGER NOT NULL, 
	name VARCHAR(80) NOT NULL, 
	created_at DATETIME NOT NULL, 
	uid VARCHAR(36) NOT NULL, 
	caution_at DATETIME, 
	CONSTRAINT pk_learners PRIMARY KEY (id), 
	CONSTRAINT uq_learners_name UNIQUE (name), 
	CONSTRAINT uq_learners_uid UNIQUE (uid)
);
INSERT INTO "learners" VALUES(1,'Wren Halloway','2026-03-02 19:30:00.000000','d54264bd-72c7-4161-9432-b3cbc8fb409f','2026-03-02 19:30:00.000000');
INSERT INTO "learners" VALUES(2,'Zoë Ångström','2026-03-02 19:30:00.000000','bcef7be5-53e4-4979-a433-e381a351f8ca','2026-03-02 19:30:00.000000');
CREATE TABLE practice_states (
	learner_id INTEGER NOT NULL, 
	model INTEGER NOT NULL, 
	attempts INTEGER NOT NULL, 
	last_at DATETIME, 
	general FLOAT NOT NULL, 
	general_variance FLOAT NOT NULL, 
	weights JSON NOT NULL, 
	CONSTRAINT pk_practice_states PRIMARY KEY (learner_id), 
	CONSTRAINT fk_practice_states_learner_id_learners FOREIGN KEY(learner_id) REFERENCES learners (id) ON DELETE CASCADE
);
INSERT INTO "practice_states" VALUES(1,2,3,'2026-03-05 19:30:00.000000',-2.55090145465876674824e-04,1.27087356368925430416e-01,'[[0.5357490738621489,0.035597215303175715],[0.43574907386214884,0.035597215303175715],[0.3,0.04],[0.2,0.04],[0.4983542366976143,0.03996230446943688],[0.4892456777708498,0.03836043538137465],[0.6046356209637606,0.03970004317413024],[0.4,0.04],[0.2944503125157424,0.03956944908303964],[0.8497891371358982,0.09892689742845581]]');
INSERT INTO "practice_states" VALUES(2,2,3,'2026-03-05 19:30:00.000000',-2.55090145465876674824e-04,1.27087356368925430416e-01,'[[0.5357490738621489,0.035597215303175715],[0.43574907386214884,0.035597215303175715],[0.3,0.04],[0.2,0.04],[0.4983542366976143,0.03996230446943688],[0.4892456777708498,0.03836043538137465],[0.6046356209637606,0.03970004317413024],[0.4,0.04],[0.2944503125157424,0.03956944908303964],[0.8497891371358982,0.09892689742845581]]');
CREATE TABLE rating_days (
	learner_id INTEGER NOT NULL, 
	day DATE NOT NULL, 
	skill VARCHAR(80) NOT NULL, 
	mean FLOAT NOT NULL, 
	variance FLOAT NOT NULL, 
	CONSTRAINT pk_rating_days PRIMARY KEY (learner_id, day, skill), 
	CONSTRAINT fk_rating_days_learner_id_learners FOREIGN KEY(learner_id) REFERENCES learners (id) ON DELETE CASCADE
)
 WITHOUT ROWID

;
INSERT INTO "rating_days" VALUES(1,'2026-03-03','bass 5/7',-0.700722072435419,8.68343814080949627509e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-03','chord 1',1.3625796445818527669e+00,8.32535423680223818365e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-03','chord 4',-1.7175914296547190041e-02,8.63780251688332167958e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-03','chord 5',2.79505079423621183298e-01,8.60047053101682390519e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-03','chord 6-',1.49102502443073270388e-01,8.55315792242007821855e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-03','even split',-4.00732654285645029101e-01,8.66601058293924086939e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-03','feel straight',7.79355249992524368174e-01,0.762751156663596);
INSERT INTO "rating_days" VALUES(1,'2026-03-03','meter 4/4',1.75807727608774699845e+00,7.91497849711765733005e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-04','bass 5/7',-7.38992513562015451711e-01,6.99985892246213659007e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-04','chord 1',1.6274138255478,6.24067540156079236801e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-04','chord 4',-2.25449259090298170793e-01,6.70893229155892334425e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-04','chord 5',1.5575906922379190167e-01,6.72773894853288312312e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-04','chord 6-',3.8250417609217512993e-01,6.65486867596346898245e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-04','even split',-4.55476396516462600505e-01,6.92990980709852655294e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-04','feel straight',7.87008053910673521791e-01,5.21158152043623257299e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-04','meter 4/4',2.04374247116727758566e+00,5.75729849850208919015e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-05','bass 5/7',-7.93032892842638337249e-01,6.28113856483249577422e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-05','chord 1',1.811339078056217744e+00,0.527043960626588);
INSERT INTO "rating_days" VALUES(1,'2026-03-05','chord 4',-4.05353756665291942162e-01,5.77276509265120307823e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-05','chord 5',0.0382708875587463,5.86491849864927750068e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-05','chord 6-',0.552478778792043,5.75511332529419217252e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-05','even split',-5.23834272596174876923e-01,6.16772351818314579219e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-05','feel straight',7.74899717062071613504e-01,4.08373225936865369423e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-05','meter 4/4',2.23318423277227573464e+00,4.78906444668946107423e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-03','bass 5/7',-0.700722072435419,8.68343814080949627509e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-03','chord 1',1.3625796445818527669e+00,8.32535423680223818365e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-03','chord 4',-1.7175914296547190041e-02,8.63780251688332167958e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-03','chord 5',2.79505079423621183298e-01,8.60047053101682390519e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-03','chord 6-',1.49102502443073270388e-01,8.55315792242007821855e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-03','even split',-4.00732654285645029101e-01,8.66601058293924086939e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-03','feel straight',7.79355249992524368174e-01,0.762751156663596);
INSERT INTO "rating_days" VALUES(2,'2026-03-03','meter 4/4',1.75807727608774699845e+00,7.91497849711765733005e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-04','bass 5/7',-7.38992513562015451711e-01,6.99985892246213659007e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-04','chord 1',1.6274138255478,6.24067540156079236801e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-04','chord 4',-2.25449259090298170793e-01,6.70893229155892334425e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-04','chord 5',1.5575906922379190167e-01,6.72773894853288312312e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-04','chord 6-',3.8250417609217512993e-01,6.65486867596346898245e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-04','even split',-4.55476396516462600505e-01,6.92990980709852655294e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-04','feel straight',7.87008053910673521791e-01,5.21158152043623257299e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-04','meter 4/4',2.04374247116727758566e+00,5.75729849850208919015e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-05','bass 5/7',-7.93032892842638337249e-01,6.28113856483249577422e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-05','chord 1',1.811339078056217744e+00,0.527043960626588);
INSERT INTO "rating_days" VALUES(2,'2026-03-05','chord 4',-4.05353756665291942162e-01,5.77276509265120307823e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-05','chord 5',0.0382708875587463,5.86491849864927750068e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-05','chord 6-',0.552478778792043,5.75511332529419217252e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-05','even split',-5.23834272596174876923e-01,6.16772351818314579219e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-05','feel straight',7.74899717062071613504e-01,4.08373225936865369423e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-05','meter 4/4',2.23318423277227573464e+00,4.78906444668946107423e-01);
CREATE TABLE "set_items" (
	id INTEGER NOT NULL, 
	learner_id INTEGER NOT NULL, 
	day DATE NOT NULL, 
	number INTEGER NOT NULL, 
	position INTEGER NOT NULL, 
	kind VARCHAR(20) NOT NULL, 
	skills JSON NOT NULL, 
	reason TEXT NOT NULL, 
	status VARCHAR(20) NOT NULL, 
	expected FLOAT, 
	minutes FLOAT, 
	changed_at DATETIME NOT NULL, 
	exercise_id INTEGER, 
	CONSTRAINT pk_set_items PRIMARY KEY (id), 
	CONSTRAINT fk_set_items_learner_id_learners FOREIGN KEY(learner_id) REFERENCES learners (id) ON DELETE CASCADE, 
	CONSTRAINT uq_set_items_learner_id_day_number_position UNIQUE (learner_id, day, number, position), 
	CONSTRAINT fk_set_items_exercise_id_exercises FOREIGN KEY(exercise_id) REFERENCES exercises (id)
);
INSERT INTO "set_items" VALUES(1,1,'2026-03-02',1,1,'mixed','[]','Something of everything.','done',0.8,2.0,'2026-03-02 19:30:00.000000',3);
INSERT INTO "set_items" VALUES(2,1,'2026-03-02',1,2,'weak','["chord 4"]','4 was weak.','open',NULL,NULL,'2026-03-02 19:30:00.000000',NULL);
INSERT INTO "set_items" VALUES(3,2,'2026-03-02',1,1,'mixed','[]','Something of everything.','done',0.8,2.0,'2026-03-02 19:30:00.000000',6);
INSERT INTO "set_items" VALUES(4,2,'2026-03-02',1,2,'weak','["chord 4"]','4 was weak.','open',NULL,NULL,'2026-03-02 19:30:00.000000',NULL);
CREATE TABLE skill_days (
	learner_id INTEGER NOT NULL, 
	day DATE NOT NULL, 
	skill VARCHAR(80) NOT NULL, 
	bars INTEGER NOT NULL, 
	score_sum FLOAT NOT NULL, 
	"right" INTEGER NOT NULL, 
	CONSTRAINT pk_skill_days PRIMARY KEY (learner_id, day, skill), 
	CONSTRAINT fk_skill_days_learner_id_learners FOREIGN KEY(learner_id) REFERENCES learners (id) ON DELETE CASCADE
)
 WITHOUT ROWID

;
INSERT INTO "skill_days" VALUES(1,'2026-03-03','bass 5/7',1,0.0,0);
INSERT INTO "skill_days" VALUES(1,'2026-03-03','chord 1',2,2.0,2);
INSERT INTO "skill_days" VALUES(1,'2026-03-03','chord 4',1,0.0,0);
INSERT INTO "skill_days" VALUES(1,'2026-03-03','chord 5',1,0.0,0);
INSERT INTO "skill_days" VALUES(1,'2026-03-03','chord 6-',1,1.0,1);
INSERT INTO "skill_days" VALUES(1,'2026-03-03','even split',1,0.0,0);
INSERT INTO "skill_days" VALUES(1,'2026-03-03','feel straight',4,2.57272727272727275149e+00,2);
INSERT INTO "skill_days" VALUES(1,'2026-03-03','meter 4/4',4,4.0,4);
INSERT INTO "skill_days" VALUES(1,'2026-03-04','bass 5/7',1,0.0,0);
INSERT INTO "skill_days" VALUES(1,'2026-03-04','chord 1',2,2.0,2);
INSERT INTO "skill_days" VALUES(1,'2026-03-04','chord 4',1,0.0,0);
INSERT INTO "skill_days" VALUES(1,'2026-03-04','chord 5',1,0.0,0);
INSERT INTO "skill_days" VALUES(1,'2026-03-04','chord 6-',1,1.0,1);
INSERT INTO "skill_days" VALUES(1,'2026-03-04','even split',1,0.0,0);
INSERT INTO "skill_days" VALUES(1,'2026-03-04','feel straight',4,2.57272727272727275149e+00,2);
INSERT INTO "skill_days" VALUES(1,'2026-03-04','meter 4/4',4,4.0,4);
INSERT INTO "skill_days" VALUES(1,'2026-03-05','bass 5/7',1,0.0,0);
INSERT INTO "skill_days" VALUES(1,'2026-03-05','chord 1',2,2.0,2);
INSERT INTO "skill_days" VALUES(1,'2026-03-05','chord 4',1,0.0,0);
INSERT INTO "skill_days" VALUES(1,'2026-03-05','chord 5',1,0.0,0);
INSERT INTO "skill_days" VALUES(1,'2026-03-05','chord 6-',1,1.0,1);
INSERT INTO "skill_days" VALUES(1,'2026-03-05','even split',1,0.0,0);
INSERT INTO "skill_days" VALUES(1,'2026-03-05','feel straight',4,2.57272727272727275149e+00,2);
INSERT INTO "skill_days" VALUES(1,'2026-03-05','meter 4/4',4,4.0,4);
INSERT INTO "skill_days" VALUES(2,'2026-03-03','bass 5/7',1,0.0,0);
INSERT INTO "skill_days" VALUES(2,'2026-03-03','chord 1',2,2.0,2);
INSERT INTO "skill_days" VALUES(2,'2026-03-03','chord 4',1,0.0,0);
INSERT INTO "skill_days" VALUES(2,'2026-03-03','chord 5',1,0.0,0);
INSERT INTO "skill_days" VALUES(2,'2026-03-03','chord 6-',1,1.0,1);
INSERT INTO "skill_days" VALUES(2,'2026-03-03','even split',1,0.0,0);
INSERT INTO "skill_days" VALUES(2,'2026-03-03','feel straight',4,2.57272727272727275149e+00,2);
INSERT INTO "skill_days" VALUES(2,'2026-03-03','meter 4/4',4,4.0,4);
INSERT INTO "skill_days" VALUES(2,'2026-03-04','bass 5/7',1,0.0,0);
INSERT INTO "skill_days" VALUES(2,'2026-03-04','chord 1',2,2.0,2);
INSERT INTO "skill_days" VALUES(2,'2026-03-04','chord 4',1,0.0,0);
INSERT INTO "skill_days" VALUES(2,'2026-03-04','chord 5',1,0.0,0);
INSERT INTO "skill_days" VALUES(2,'2026-03-04','chord 6-',1,1.0,1);
INSERT INTO "skill_days" VALUES(2,'2026-03-04','even split',1,0.0,0);
INSERT INTO "skill_days" VALUES(2,'2026-03-04','feel straight',4,2.57272727272727275149e+00,2);
INSERT INTO "skill_days" VALUES(2,'2026-03-04','meter 4/4',4,4.0,4);
INSERT INTO "skill_days" VALUES(2,'2026-03-05','bass 5/7',1,0.0,0);
INSERT INTO "skill_days" VALUES(2,'2026-03-05','chord 1',2,2.0,2);
INSERT INTO "skill_days" VALUES(2,'2026-03-05','chord 4',1,0.0,0);
INSERT INTO "skill_days" VALUES(2,'2026-03-05','chord 5',1,0.0,0);
INSERT INTO "skill_days" VALUES(2,'2026-03-05','chord 6-',1,1.0,1);
INSERT INTO "skill_days" VALUES(2,'2026-03-05','even split',1,0.0,0);
INSERT INTO "skill_days" VALUES(2,'2026-03-05','feel straight',4,2.57272727272727275149e+00,2);
INSERT INTO "skill_days" VALUES(2,'2026-03-05','meter 4/4',4,4.0,4);
CREATE TABLE skill_states (
	learner_id INTEGER NOT NULL, 
	skill VARCHAR(80) NOT NULL, 
	own FLOAT NOT NULL, 
	variance FLOAT NOT NULL, 
	bars INTEGER NOT NULL, 
	credit FLOAT NOT NULL, 
	state INTEGER NOT NULL, 
	step INTEGER, 
	stability_days FLOAT NOT NULL, 
	difficulty FLOAT NOT NULL, 
	due DATETIME NOT NULL, 
	last_at DATETIME NOT NULL, 
	CONSTRAINT pk_skill_states PRIMARY KEY (learner_id, skill), 
	CONSTRAINT fk_skill_states_learner_id_learners FOREIGN KEY(learner_id) REFERENCES learners (id) ON DELETE CASCADE
)
 WITHOUT ROWID

;
INSERT INTO "skill_states" VALUES(1,'bass 5/7',-2.92777802697172462309e-01,5.01026500114324147006e-01,3,0.0,1,0,5.50345301183310375847e-02,9.59286876533969312674e+00,'2026-03-05 19:31:00.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(1,'chord 1',6.11594168201683552332e-01,3.99956604257662551304e-01,6,6.0,2,NULL,1.19910261833261948542e+01,2.10433139084644826866e+00,'2026-03-17 19:30:00.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(1,'chord 4',-8.05098666519826089427e-01,4.50189152896194877406e-01,3,0.0,1,0,5.50345301183310375847e-02,9.59286876533969312674e+00,'2026-03-05 19:31:00.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(1,'chord 5',-5.61474022295787800196e-01,4.59404493496002319652e-01,3,0.0,1,0,5.50345301183310375847e-02,9.59286876533969312674e+00,'2026-03-05 19:31:00.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(1,'chord 6-',5.52733868937508865393e-01,4.48423976160493842346e-01,3,3.0,2,NULL,1.19910261833261948542e+01,2.10433139084644826866e+00,'2026-03-17 19:30:00.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(1,'even split',-3.23579182450709046392e-01,4.89684995449389148802e-01,3,0.0,1,0,5.50345301183310375847e-02,9.59286876533969312674e+00,'2026-03-05 19:31:00.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(1,'feel straight',-2.24845192792462483799e-01,2.81285869567939939006e-01,12,7.71818181818181869857e+00,1,0,4.68264228326033471461e+00,7.82139349799879735058e+00,'2026-03-05 19:35:30.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(1,'meter 4/4',7.33439322917741831631e-01,3.51819088300020677007e-01,12,12.0,2,NULL,1.19910261833261948542e+01,2.10433139084644826866e+00,'2026-03-17 19:30:00.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(2,'bass 5/7',-2.92777802697172462309e-01,5.01026500114324147006e-01,3,0.0,1,0,5.50345301183310375847e-02,9.59286876533969312674e+00,'2026-03-05 19:31:00.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(2,'chord 1',6.11594168201683552332e-01,3.99956604257662551304e-01,6,6.0,2,NULL,1.19910261833261948542e+01,2.10433139084644826866e+00,'2026-03-17 19:30:00.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(2,'chord 4',-8.05098666519826089427e-01,4.50189152896194877406e-01,3,0.0,1,0,5.50345301183310375847e-02,9.59286876533969312674e+00,'2026-03-05 19:31:00.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(2,'chord 5',-5.61474022295787800196e-01,4.59404493496002319652e-01,3,0.0,1,0,5.50345301183310375847e-02,9.59286876533969312674e+00,'2026-03-05 19:31:00.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(2,'chord 6-',5.52733868937508865393e-01,4.48423976160493842346e-01,3,3.0,2,NULL,1.19910261833261948542e+01,2.10433139084644826866e+00,'2026-03-17 19:30:00.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(2,'even split',-3.23579182450709046392e-01,4.89684995449389148802e-01,3,0.0,1,0,5.50345301183310375847e-02,9.59286876533969312674e+00,'2026-03-05 19:31:00.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(2,'feel straight',-2.24845192792462483799e-01,2.81285869567939939006e-01,12,7.71818181818181869857e+00,1,0,4.68264228326033471461e+00,7.82139349799879735058e+00,'2026-03-05 19:35:30.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(2,'meter 4/4',7.33439322917741831631e-01,3.51819088300020677007e-01,12,12.0,2,NULL,1.19910261833261948542e+01,2.10433139084644826866e+00,'2026-03-17 19:30:00.000000','2026-03-05 19:30:00.000000');
CREATE TABLE speed_results (
	attempt_id INTEGER NOT NULL, 
	learner_id INTEGER NOT NULL, 
	protocol VARCHAR(40) NOT NULL, 
	at DATETIME NOT NULL, 
	kept_up FLOAT NOT NULL, 
	"right" FLOAT NOT NULL, 
	lag_beats FLOAT, 
	CONSTRAINT pk_speed_results PRIMARY KEY (attempt_id), 
	CONSTRAINT fk_speed_results_attempt_id_attempts FOREIGN KEY(attempt_id) REFERENCES attempts (id) ON DELETE CASCADE, 
	CONSTRAINT fk_speed_results_learner_id_learners FOREIGN KEY(learner_id) REFERENCES learners (id) ON DELETE CASCADE
);
CREATE TABLE submissions (
	attempt_id INTEGER NOT NULL, 
	answer_text TEXT NOT NULL, 
	report JSON NOT NULL, 
	CONSTRAINT pk_submissions PRIMARY KEY (attempt_id), 
	CONSTRAINT fk_submissions_attempt_id_attempts FOREIGN KEY(attempt_id) REFERENCES attempts (id) ON DELETE CASCADE
);
INSERT INTO "submissions" VALUES(1,'1 1 6- 2-','{"score":0.6431818181818182,"root":0.625,"strict":0.625,"parts":{"root":0.625,"quality":0.7,"bass":0.625,"placement":0.0,"articulation":null,"meter":null,"key_change":null},"bars":[{"reference":1,"answer":1,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":1.0,"lag_beats":1.0},{"reference":2,"answer":2,"score":0.4727272727272727,"root":0.5,"quality":0.55,"bass":0.5,"placement":0.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":0.5,"lag_beats":null},{"reference":3,"answer":3,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":1.0,"lag_beats":3.0},{"reference":4,"answer":4,"score":0.1,"root":0.0,"quality":0.25,"bass":0.0,"placement":1.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":0.0,"lag_beats":null}],"phrases":{"precision":1.0,"recall":1.0,"f":1.0,"within_one":{"precision":1.0,"recall":1.0,"f":1.0}},"form":{"score":0.0,"order":0.0,"lengths":0.0,"sections":[{"reference":"Verse 1","answer":null,"reference_bars":4,"answer_bars":0},{"reference":null,"answer":"","reference_bars":0,"answer_bars":4}]},"home_shift":null,"happenings":[],"confusions":[{"bar":2,"played":"5/7","written":"1","share":0.5},{"bar":4,"played":"4","written":"2-","share":1.0}],"speed":{"first_pass":false,"listens":1,"paused":false,"median_lag_beats":2.0,"most_lag_beats":3.0,"bars_a_minute":17.454545454545453,"fell_behind":null,"lag_beats":[1.0,null,3.0,null]},"advice":["Bar 4: 4 was played, 2- is written. They share two notes (4 and 6); listen to the bass: it is on 4, not 2.","Bar 2: 1 and 5/7 were played, two beats each; 1 is written for the whole bar. Listen for the bass moving inside the bar."],"weights":{"root":4.0,"quality":4.0,"bass":2.0,"placement":1.0,"articulation":1.0,"meter":5.0,"key_change":10.0,"bars":0.9,"phrases":0.07,"form":0.03,"added":1.0,"swapped":2.0,"shared_tones":0.5,"all_or_nothing":false,"plain_minor":false},"advice_details":[{"kind":"other chord","text":"Bar 4: 4 was played, 2- is written. They share two notes (4 and 6); listen to the bass: it is on 4, not 2.","cost":0.225,"cases":[{"reference":4,"answer":4,"played":"4","written":"2-"}],"listen":[3,4],"listen_answer":[3,4]},{"kind":"split missed","text":"Bar 2: 1 and 5/7 were played, two beats each; 1 is written for the whole bar. Listen for the bass moving inside the bar.","cost":0.13181818181818183,"cases":[{"reference":2,"answer":2,"played":"1_5/7","written":"1"}],"listen":[1,2],"listen_answer":[1,2]}]}');
INSERT INTO "submissions" VALUES(2,'1 1 6- 2-','{"score":0.6431818181818182,"root":0.625,"strict":0.625,"parts":{"root":0.625,"quality":0.7,"bass":0.625,"placement":0.0,"articulation":null,"meter":null,"key_change":null},"bars":[{"reference":1,"answer":1,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":1.0,"lag_beats":1.0},{"reference":2,"answer":2,"score":0.4727272727272727,"root":0.5,"quality":0.55,"bass":0.5,"placement":0.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":0.5,"lag_beats":null},{"reference":3,"answer":3,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":1.0,"lag_beats":3.0},{"reference":4,"answer":4,"score":0.1,"root":0.0,"quality":0.25,"bass":0.0,"placement":1.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":0.0,"lag_beats":null}],"phrases":{"precision":1.0,"recall":1.0,"f":1.0,"within_one":{"precision":1.0,"recall":1.0,"f":1.0}},"form":{"score":0.0,"order":0.0,"lengths":0.0,"sections":[{"reference":"Verse 1","answer":null,"reference_bars":4,"answer_bars":0},{"reference":null,"answer":"","reference_bars":0,"answer_bars":4}]},"home_shift":null,"happenings":[],"confusions":[{"bar":2,"played":"5/7","written":"1","share":0.5},{"bar":4,"played":"4","written":"2-","share":1.0}],"speed":{"first_pass":false,"listens":1,"paused":false,"median_lag_beats":2.0,"most_lag_beats":3.0,"bars_a_minute":17.454545454545453,"fell_behind":null,"lag_beats":[1.0,null,3.0,null]},"advice":["Bar 4: 4 was played, 2- is written. They share two notes (4 and 6); listen to the bass: it is on 4, not 2.","Bar 2: 1 and 5/7 were played, two beats each; 1 is written for the whole bar. Listen for the bass moving inside the bar."],"weights":{"root":4.0,"quality":4.0,"bass":2.0,"placement":1.0,"articulation":1.0,"meter":5.0,"key_change":10.0,"bars":0.9,"phrases":0.07,"form":0.03,"added":1.0,"swapped":2.0,"shared_tones":0.5,"all_or_nothing":false,"plain_minor":false},"advice_details":[{"kind":"other chord","text":"Bar 4: 4 was played, 2- is written. They share two notes (4 and 6); listen to the bass: it is on 4, not 2.","cost":0.225,"cases":[{"reference":4,"answer":4,"played":"4","written":"2-"}],"listen":[3,4],"listen_answer":[3,4]},{"kind":"split missed","text":"Bar 2: 1 and 5/7 were played, two beats each; 1 is written for the whole bar. Listen for the bass moving inside the bar.","cost":0.13181818181818183,"cases":[{"reference":2,"answer":2,"played":"1_5/7","written":"1"}],"listen":[1,2],"listen_answer":[1,2]}]}');
INSERT INTO "submissions" VALUES(3,'1 1 6- 2-','{"score":0.6431818181818182,"root":0.625,"strict":0.625,"parts":{"root":0.625,"quality":0.7,"bass":0.625,"placement":0.0,"articulation":null,"meter":null,"key_change":null},"bars":[{"reference":1,"answer":1,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":1.0,"lag_beats":1.0},{"reference":2,"answer":2,"score":0.4727272727272727,"root":0.5,"quality":0.55,"bass":0.5,"placement":0.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":0.5,"lag_beats":null},{"reference":3,"answer":3,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":1.0,"lag_beats":3.0},{"reference":4,"answer":4,"score":0.1,"root":0.0,"quality":0.25,"bass":0.0,"placement":1.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":0.0,"lag_beats":null}],"phrases":{"precision":1.0,"recall":1.0,"f":1.0,"within_one":{"precision":1.0,"recall":1.0,"f":1.0}},"form":{"score":0.0,"order":0.0,"lengths":0.0,"sections":[{"reference":"Verse 1","answer":null,"reference_bars":4,"answer_bars":0},{"reference":null,"answer":"","reference_bars":0,"answer_bars":4}]},"home_shift":null,"happenings":[],"confusions":[{"bar":2,"played":"5/7","written":"1","share":0.5},{"bar":4,"played":"4","written":"2-","share":1.0}],"speed":{"first_pass":false,"listens":1,"paused":false,"median_lag_beats":2.0,"most_lag_beats":3.0,"bars_a_minute":17.454545454545453,"fell_behind":null,"lag_beats":[1.0,null,3.0,null]},"advice":["Bar 4: 4 was played, 2- is written. They share two notes (4 and 6); listen to the bass: it is on 4, not 2.","Bar 2: 1 and 5/7 were played, two beats each; 1 is written for the whole bar. Listen for the bass moving inside the bar."],"weights":{"root":4.0,"quality":4.0,"bass":2.0,"placement":1.0,"articulation":1.0,"meter":5.0,"key_change":10.0,"bars":0.9,"phrases":0.07,"form":0.03,"added":1.0,"swapped":2.0,"shared_tones":0.5,"all_or_nothing":false,"plain_minor":false},"advice_details":[{"kind":"other chord","text":"Bar 4: 4 was played, 2- is written. They share two notes (4 and 6); listen to the bass: it is on 4, not 2.","cost":0.225,"cases":[{"reference":4,"answer":4,"played":"4","written":"2-"}],"listen":[3,4],"listen_answer":[3,4]},{"kind":"split missed","text":"Bar 2: 1 and 5/7 were played, two beats each; 1 is written for the whole bar. Listen for the bass moving inside the bar.","cost":0.13181818181818183,"cases":[{"reference":2,"answer":2,"played":"1_5/7","written":"1"}],"listen":[1,2],"listen_answer":[1,2]}]}');
INSERT INTO "submissions" VALUES(4,'1 1 6- 2-','{"score":0.6431818181818182,"root":0.625,"strict":0.625,"parts":{"root":0.625,"quality":0.7,"bass":0.625,"placement":0.0,"articulation":null,"meter":null,"key_change":null},"bars":[{"reference":1,"answer":1,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":1.0,"lag_beats":1.0},{"reference":2,"answer":2,"score":0.4727272727272727,"root":0.5,"quality":0.55,"bass":0.5,"placement":0.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":0.5,"lag_beats":null},{"reference":3,"answer":3,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":1.0,"lag_beats":3.0},{"reference":4,"answer":4,"score":0.1,"root":0.0,"quality":0.25,"bass":0.0,"placement":1.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":0.0,"lag_beats":null}],"phrases":{"precision":1.0,"recall":1.0,"f":1.0,"within_one":{"precision":1.0,"recall":1.0,"f":1.0}},"form":{"score":0.0,"order":0.0,"lengths":0.0,"sections":[{"reference":"Verse 1","answer":null,"reference_bars":4,"answer_bars":0},{"reference":null,"answer":"","reference_bars":0,"answer_bars":4}]},"home_shift":null,"happenings":[],"confusions":[{"bar":2,"played":"5/7","written":"1","share":0.5},{"bar":4,"played":"4","written":"2-","share":1.0}],"speed":{"first_pass":false,"listens":1,"paused":false,"median_lag_beats":2.0,"most_lag_beats":3.0,"bars_a_minute":17.454545454545453,"fell_behind":null,"lag_beats":[1.0,null,3.0,null]},"advice":["Bar 4: 4 was played, 2- is written. They share two notes (4 and 6); listen to the bass: it is on 4, not 2.","Bar 2: 1 and 5/7 were played, two beats each; 1 is written for the whole bar. Listen for the bass moving inside the bar."],"weights":{"root":4.0,"quality":4.0,"bass":2.0,"placement":1.0,"articulation":1.0,"meter":5.0,"key_change":10.0,"bars":0.9,"phrases":0.07,"form":0.03,"added":1.0,"swapped":2.0,"shared_tones":0.5,"all_or_nothing":false,"plain_minor":false},"advice_details":[{"kind":"other chord","text":"Bar 4: 4 was played, 2- is written. They share two notes (4 and 6); listen to the bass: it is on 4, not 2.","cost":0.225,"cases":[{"reference":4,"answer":4,"played":"4","written":"2-"}],"listen":[3,4],"listen_answer":[3,4]},{"kind":"split missed","text":"Bar 2: 1 and 5/7 were played, two beats each; 1 is written for the whole bar. Listen for the bass moving inside the bar.","cost":0.13181818181818183,"cases":[{"reference":2,"answer":2,"played":"1_5/7","written":"1"}],"listen":[1,2],"listen_answer":[1,2]}]}');
INSERT INTO "submissions" VALUES(5,'1 1 6- 2-','{"score":0.6431818181818182,"root":0.625,"strict":0.625,"parts":{"root":0.625,"quality":0.7,"bass":0.625,"placement":0.0,"articulation":null,"meter":null,"key_change":null},"bars":[{"reference":1,"answer":1,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":1.0,"lag_beats":1.0},{"reference":2,"answer":2,"score":0.4727272727272727,"root":0.5,"quality":0.55,"bass":0.5,"placement":0.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":0.5,"lag_beats":null},{"reference":3,"answer":3,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":1.0,"lag_beats":3.0},{"reference":4,"answer":4,"score":0.1,"root":0.0,"quality":0.25,"bass":0.0,"placement":1.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":0.0,"lag_beats":null}],"phrases":{"precision":1.0,"recall":1.0,"f":1.0,"within_one":{"precision":1.0,"recall":1.0,"f":1.0}},"form":{"score":0.0,"order":0.0,"lengths":0.0,"sections":[{"reference":"Verse 1","answer":null,"reference_bars":4,"answer_bars":0},{"reference":null,"answer":"","reference_bars":0,"answer_bars":4}]},"home_shift":null,"happenings":[],"confusions":[{"bar":2,"played":"5/7","written":"1","share":0.5},{"bar":4,"played":"4","written":"2-","share":1.0}],"speed":{"first_pass":false,"listens":1,"paused":false,"median_lag_beats":2.0,"most_lag_beats":3.0,"bars_a_minute":17.454545454545453,"fell_behind":null,"lag_beats":[1.0,null,3.0,null]},"advice":["Bar 4: 4 was played, 2- is written. They share two notes (4 and 6); listen to the bass: it is on 4, not 2.","Bar 2: 1 and 5/7 were played, two beats each; 1 is written for the whole bar. Listen for the bass moving inside the bar."],"weights":{"root":4.0,"quality":4.0,"bass":2.0,"placement":1.0,"articulation":1.0,"meter":5.0,"key_change":10.0,"bars":0.9,"phrases":0.07,"form":0.03,"added":1.0,"swapped":2.0,"shared_tones":0.5,"all_or_nothing":false,"plain_minor":false},"advice_details":[{"kind":"other chord","text":"Bar 4: 4 was played, 2- is written. They share two notes (4 and 6); listen to the bass: it is on 4, not 2.","cost":0.225,"cases":[{"reference":4,"answer":4,"played":"4","written":"2-"}],"listen":[3,4],"listen_answer":[3,4]},{"kind":"split missed","text":"Bar 2: 1 and 5/7 were played, two beats each; 1 is written for the whole bar. Listen for the bass moving inside the bar.","cost":0.13181818181818183,"cases":[{"reference":2,"answer":2,"played":"1_5/7","written":"1"}],"listen":[1,2],"listen_answer":[1,2]}]}');
INSERT INTO "submissions" VALUES(6,'1 1 6- 2-','{"score":0.6431818181818182,"root":0.625,"strict":0.625,"parts":{"root":0.625,"quality":0.7,"bass":0.625,"placement":0.0,"articulation":null,"meter":null,"key_change":null},"bars":[{"reference":1,"answer":1,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":1.0,"lag_beats":1.0},{"reference":2,"answer":2,"score":0.4727272727272727,"root":0.5,"quality":0.55,"bass":0.5,"placement":0.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":0.5,"lag_beats":null},{"reference":3,"answer":3,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":1.0,"lag_beats":3.0},{"reference":4,"answer":4,"score":0.1,"root":0.0,"quality":0.25,"bass":0.0,"placement":1.0,"articulation":1.0,"meter":1.0,"key_change":1.0,"strict":0.0,"lag_beats":null}],"phrases":{"precision":1.0,"recall":1.0,"f":1.0,"within_one":{"precision":1.0,"recall":1.0,"f":1.0}},"form":{"score":0.0,"order":0.0,"lengths":0.0,"sections":[{"reference":"Verse 1","answer":null,"reference_bars":4,"answer_bars":0},{"reference":null,"answer":"","reference_bars":0,"answer_bars":4}]},"home_shift":null,"happenings":[],"confusions":[{"bar":2,"played":"5/7","written":"1","share":0.5},{"bar":4,"played":"4","written":"2-","share":1.0}],"speed":{"first_pass":false,"listens":1,"paused":false,"median_lag_beats":2.0,"most_lag_beats":3.0,"bars_a_minute":17.454545454545453,"fell_behind":null,"lag_beats":[1.0,null,3.0,null]},"advice":["Bar 4: 4 was played, 2- is written. They share two notes (4 and 6); listen to the bass: it is on 4, not 2.","Bar 2: 1 and 5/7 were played, two beats each; 1 is written for the whole bar. Listen for the bass moving inside the bar."],"weights":{"root":4.0,"quality":4.0,"bass":2.0,"placement":1.0,"articulation":1.0,"meter":5.0,"key_change":10.0,"bars":0.9,"phrases":0.07,"form":0.03,"added":1.0,"swapped":2.0,"shared_tones":0.5,"all_or_nothing":false,"plain_minor":false},"advice_details":[{"kind":"other chord","text":"Bar 4: 4 was played, 2- is written. They share two notes (4 and 6); listen to the bass: it is on 4, not 2.","cost":0.225,"cases":[{"reference":4,"answer":4,"played":"4","written":"2-"}],"listen":[3,4],"listen_answer":[3,4]},{"kind":"split missed","text":"Bar 2: 1 and 5/7 were played, two beats each; 1 is written for the whole bar. Listen for the bass moving inside the bar.","cost":0.13181818181818183,"cases":[{"reference":2,"answer":2,"played":"1_5/7","written":"1"}],"listen":[1,2],"listen_answer":[1,2]}]}');
CREATE INDEX ix_speed_results_learner_id ON speed_results (learner_id);
CREATE INDEX ix_drills_exercise_id ON drills (exercise_id);
CREATE INDEX ix_attempts_learner_id_day ON attempts (learner_id, day);
CREATE INDEX ix_attempts_learner_id_level_finished_at_id_score ON attempts (learner_id, level, finished_at, id, score);
CREATE INDEX ix_attempts_learner_id_finished_at_id ON attempts (learner_id, finished_at, id);
CREATE INDEX ix_exercises_owner_id_song ON exercises (owner_id, song);
CREATE INDEX ix_attempts_exercise_id ON attempts (exercise_id);
CREATE INDEX ix_set_items_exercise_id ON set_items (exercise_id);
COMMIT;
