BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0003');
CREATE TABLE attempts (
	id INTEGER NOT NULL, 
	learner_id INTEGER NOT NULL, 
	exercise_id VARCHAR(200) NOT NULL, 
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
	token VARCHAR(80), home_shift VARCHAR(40), 
	CONSTRAINT pk_attempts PRIMARY KEY (id), 
	CONSTRAINT fk_attempts_exercise_id_exercises FOREIGN KEY(exercise_id) REFERENCES exercises (id), 
	CONSTRAINT fk_attempts_learner_id_learners FOREIGN KEY(learner_id) REFERENCES learners (id) ON DELETE CASCADE, 
	CONSTRAINT uq_attempts_learner_id_token UNIQUE (learner_id, token)
);
INSERT INTO "attempts" VALUES(1,1,'millrace-1',1,'2026-03-03 19:28:00.000000','2026-03-03 19:30:00.000000','2026-03-03',120.0,0.625,4,1,0,1.0,0,2.0,'0.1.0','t1',NULL);
INSERT INTO "attempts" VALUES(2,1,'millrace-2',2,'2026-03-04 19:28:00.000000','2026-03-04 19:30:00.000000','2026-03-04',120.0,0.625,4,1,0,1.0,0,2.0,'0.1.0','t2',NULL);
INSERT INTO "attempts" VALUES(3,1,'millrace-3',3,'2026-03-05 19:28:00.000000','2026-03-05 19:30:00.000000','2026-03-05',120.0,0.625,4,1,0,1.0,0,2.0,'0.1.0','t3',NULL);
INSERT INTO "attempts" VALUES(4,2,'millrace-1',1,'2026-03-03 19:28:00.000000','2026-03-03 19:30:00.000000','2026-03-03',120.0,0.625,4,1,0,1.0,0,2.0,'0.1.0','t1',NULL);
INSERT INTO "attempts" VALUES(5,2,'millrace-2',2,'2026-03-04 19:28:00.000000','2026-03-04 19:30:00.000000','2026-03-04',120.0,0.625,4,1,0,1.0,0,2.0,'0.1.0','t2',NULL);
INSERT INTO "attempts" VALUES(6,2,'millrace-3',3,'2026-03-05 19:28:00.000000','2026-03-05 19:30:00.000000','2026-03-05',120.0,0.625,4,1,0,1.0,0,2.0,'0.1.0','t3',NULL);
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
	mixed JSON NOT NULL, 
	skills JSON NOT NULL, phrase_end FLOAT, section_start FLOAT, 
	CONSTRAINT pk_bar_results PRIMARY KEY (attempt_id, position), 
	CONSTRAINT fk_bar_results_attempt_id_attempts FOREIGN KEY(attempt_id) REFERENCES attempts (id) ON DELETE CASCADE
)
 WITHOUT ROWID

;
INSERT INTO "bar_results" VALUES(1,1,1,1,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,1.0,'1','1','[]','["chord 1"]',NULL,1.0);
INSERT INTO "bar_results" VALUES(1,2,2,2,0.5,0.5,0.5,0.5,0.5,0.5,NULL,NULL,0.5,NULL,'1_5/7','1','[["5/7","1"]]','["chord 1","chord 5","even split"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(1,3,3,3,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,3.0,'6-','6-','[]','["chord 6-"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(1,4,4,4,0.0,0.0,0.0,0.0,0.0,0.0,NULL,NULL,0.0,NULL,'4','2-','[["4","2-"]]','["chord 4"]',1.0,NULL);
INSERT INTO "bar_results" VALUES(2,1,1,1,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,1.0,'1','1','[]','["chord 1"]',NULL,1.0);
INSERT INTO "bar_results" VALUES(2,2,2,2,0.5,0.5,0.5,0.5,0.5,0.5,NULL,NULL,0.5,NULL,'1_5/7','1','[["5/7","1"]]','["chord 1","chord 5","even split"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(2,3,3,3,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,3.0,'6-','6-','[]','["chord 6-"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(2,4,4,4,0.0,0.0,0.0,0.0,0.0,0.0,NULL,NULL,0.0,NULL,'4','2-','[["4","2-"]]','["chord 4"]',1.0,NULL);
INSERT INTO "bar_results" VALUES(3,1,1,1,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,1.0,'1','1','[]','["chord 1"]',NULL,1.0);
INSERT INTO "bar_results" VALUES(3,2,2,2,0.5,0.5,0.5,0.5,0.5,0.5,NULL,NULL,0.5,NULL,'1_5/7','1','[["5/7","1"]]','["chord 1","chord 5","even split"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(3,3,3,3,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,3.0,'6-','6-','[]','["chord 6-"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(3,4,4,4,0.0,0.0,0.0,0.0,0.0,0.0,NULL,NULL,0.0,NULL,'4','2-','[["4","2-"]]','["chord 4"]',1.0,NULL);
INSERT INTO "bar_results" VALUES(4,1,1,1,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,1.0,'1','1','[]','["chord 1"]',NULL,1.0);
INSERT INTO "bar_results" VALUES(4,2,2,2,0.5,0.5,0.5,0.5,0.5,0.5,NULL,NULL,0.5,NULL,'1_5/7','1','[["5/7","1"]]','["chord 1","chord 5","even split"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(4,3,3,3,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,3.0,'6-','6-','[]','["chord 6-"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(4,4,4,4,0.0,0.0,0.0,0.0,0.0,0.0,NULL,NULL,0.0,NULL,'4','2-','[["4","2-"]]','["chord 4"]',1.0,NULL);
INSERT INTO "bar_results" VALUES(5,1,1,1,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,1.0,'1','1','[]','["chord 1"]',NULL,1.0);
INSERT INTO "bar_results" VALUES(5,2,2,2,0.5,0.5,0.5,0.5,0.5,0.5,NULL,NULL,0.5,NULL,'1_5/7','1','[["5/7","1"]]','["chord 1","chord 5","even split"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(5,3,3,3,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,3.0,'6-','6-','[]','["chord 6-"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(5,4,4,4,0.0,0.0,0.0,0.0,0.0,0.0,NULL,NULL,0.0,NULL,'4','2-','[["4","2-"]]','["chord 4"]',1.0,NULL);
INSERT INTO "bar_results" VALUES(6,1,1,1,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,1.0,'1','1','[]','["chord 1"]',NULL,1.0);
INSERT INTO "bar_results" VALUES(6,2,2,2,0.5,0.5,0.5,0.5,0.5,0.5,NULL,NULL,0.5,NULL,'1_5/7','1','[["5/7","1"]]','["chord 1","chord 5","even split"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(6,3,3,3,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,3.0,'6-','6-','[]','["chord 6-"]',NULL,NULL);
INSERT INTO "bar_results" VALUES(6,4,4,4,0.0,0.0,0.0,0.0,0.0,0.0,NULL,NULL,0.0,NULL,'4','2-','[["4","2-"]]','["chord 4"]',1.0,NULL);
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
CREATE TABLE drafts (
	learner_id INTEGER NOT NULL, 
	exercise_id VARCHAR(200) NOT NULL, 
	text TEXT NOT NULL, 
	updated_at DATETIME NOT NULL, 
	CONSTRAINT pk_drafts PRIMARY KEY (learner_id, exercise_id), 
	CONSTRAINT fk_drafts_exercise_id_exercises FOREIGN KEY(exercise_id) REFERENCES exercises (id), 
	CONSTRAINT fk_drafts_learner_id_learners FOREIGN KEY(learner_id) REFERENCES learners (id) ON DELETE CASCADE
);
INSERT INTO "drafts" VALUES(1,'millrace-3','1 1 ♭7','2026-03-02 19:30:00.000000');
INSERT INTO "drafts" VALUES(2,'millrace-3','1 1 ♭7','2026-03-02 19:30:00.000000');
CREATE TABLE exercises (
	id VARCHAR(200) NOT NULL, 
	level INTEGER, 
	origin VARCHAR(20) NOT NULL, 
	title TEXT NOT NULL, 
	data JSON NOT NULL, 
	CONSTRAINT pk_exercises PRIMARY KEY (id)
);
INSERT INTO "exercises" VALUES('millrace-1',1,'generated','Second Lamp past the Sluice','{"id":"millrace-1","level":1,"recipe":{"size":"phrase","chords":["1","4","5","6-"]},"seed":1,"generator_version":"1","skills":["chord 1","chord 4"],"chart":{"title":"Second Lamp past the Sluice","meter":"4/4","tempo":92.0,"feel":"straight","key":"D","text":"title: Second Lamp past the Sluice\nmeter: 4/4\ntempo: 92\nfeel: straight\nkey: D\n\nVerse 1:\n1 1_5/7 6- 4\n","sections":[{"name":"Verse 1","kind":"verse","phrases":[{"bars":[{"meter":"4/4","key_change":0,"events":[{"chord":"1","degree":"1","quality":"","extension":"","bass":null,"beats":"4","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"1","degree":"1","quality":"","extension":"","bass":null,"beats":"2","articulation":null},{"chord":"5/7","degree":"5","quality":"","extension":"","bass":"7","beats":"2","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"6-","degree":"6","quality":"-","extension":"","bass":null,"beats":"4","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"4","degree":"4","quality":"","extension":"","bass":null,"beats":"4","articulation":null}]}]}]}]}}');
INSERT INTO "exercises" VALUES('millrace-2',2,'generated','Second Lamp past the Sluice','{"id":"millrace-2","level":2,"recipe":{"size":"phrase","chords":["1","4","5","6-"]},"seed":2,"generator_version":"1","skills":["chord 1","chord 4"],"chart":{"title":"Second Lamp past the Sluice","meter":"4/4","tempo":92.0,"feel":"straight","key":"D","text":"title: Second Lamp past the Sluice\nmeter: 4/4\ntempo: 92\nfeel: straight\nkey: D\n\nVerse 1:\n1 1_5/7 6- 4\n","sections":[{"name":"Verse 1","kind":"verse","phrases":[{"bars":[{"meter":"4/4","key_change":0,"events":[{"chord":"1","degree":"1","quality":"","extension":"","bass":null,"beats":"4","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"1","degree":"1","quality":"","extension":"","bass":null,"beats":"2","articulation":null},{"chord":"5/7","degree":"5","quality":"","extension":"","bass":"7","beats":"2","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"6-","degree":"6","quality":"-","extension":"","bass":null,"beats":"4","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"4","degree":"4","quality":"","extension":"","bass":null,"beats":"4","articulation":null}]}]}]}]}}');
INSERT INTO "exercises" VALUES('millrace-3',3,'generated','Second Lamp past the Sluice','{"id":"millrace-3","level":3,"recipe":{"size":"phrase","chords":["1","4","5","6-"]},"seed":3,"generator_version":"1","skills":["chord 1","chord 4"],"chart":{"title":"Second Lamp past the Sluice","meter":"4/4","tempo":92.0,"feel":"straight","key":"D","text":"title: Second Lamp past the Sluice\nmeter: 4/4\ntempo: 92\nfeel: straight\nkey: D\n\nVerse 1:\n1 1_5/7 6- 4\n","sections":[{"name":"Verse 1","kind":"verse","phrases":[{"bars":[{"meter":"4/4","key_change":0,"events":[{"chord":"1","degree":"1","quality":"","extension":"","bass":null,"beats":"4","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"1","degree":"1","quality":"","extension":"","bass":null,"beats":"2","articulation":null},{"chord":"5/7","degree":"5","quality":"","extension":"","bass":"7","beats":"2","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"6-","degree":"6","quality":"-","extension":"","bass":null,"beats":"4","articulation":null}]},{"meter":"4/4","key_change":0,"events":[{"chord":"4","degree":"4","quality":"","extension":"","bass":null,"beats":"4","articulation":null}]}]}]}]}}');
CREATE TABLE learners (
	id INTEGER NOT NULL, 
	name VARCHAR(80) NOT NULL, 
	created_at DATETIME NOT NULL, 
	CONSTRAINT pk_learners PRIMARY KEY (id), 
	CONSTRAINT uq_learners_name UNIQUE (name)
);
INSERT INTO "learners" VALUES(1,'Wren Halloway','2026-03-02 19:30:00.000000');
INSERT INTO "learners" VALUES(2,'Zoë Ångström','2026-03-02 19:30:00.000000');
CREATE TABLE papers (
	attempt_id INTEGER NOT NULL, 
	answer_text TEXT NOT NULL, 
	report JSON NOT NULL, 
	CONSTRAINT pk_papers PRIMARY KEY (attempt_id), 
	CONSTRAINT fk_papers_attempt_id_attempts FOREIGN KEY(attempt_id) REFERENCES attempts (id) ON DELETE CASCADE
);
INSERT INTO "papers" VALUES(1,'1 1 6- 2-','{"score":0.625,"bars":[{"reference":1,"answer":1,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"strict":1.0},{"reference":2,"answer":2,"score":0.5,"root":0.5,"quality":0.5,"bass":0.5,"placement":0.5,"articulation":0.5,"strict":0.5},{"reference":3,"answer":3,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"strict":1.0},{"reference":4,"answer":4,"score":0.0,"root":0.0,"quality":0.0,"bass":0.0,"placement":0.0,"articulation":0.0,"strict":0.0}],"phrases":{"precision":1.0,"recall":1.0,"f":1.0},"form":{},"home_shift":null,"confusions":[{"bar":2,"played":"5/7","written":"1","share":0.5},{"bar":4,"played":"4","written":"2-","share":1.0}],"advice":["Bar 4: 4 and 2- share two tones."]}');
INSERT INTO "papers" VALUES(2,'1 1 6- 2-','{"score":0.625,"bars":[{"reference":1,"answer":1,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"strict":1.0},{"reference":2,"answer":2,"score":0.5,"root":0.5,"quality":0.5,"bass":0.5,"placement":0.5,"articulation":0.5,"strict":0.5},{"reference":3,"answer":3,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"strict":1.0},{"reference":4,"answer":4,"score":0.0,"root":0.0,"quality":0.0,"bass":0.0,"placement":0.0,"articulation":0.0,"strict":0.0}],"phrases":{"precision":1.0,"recall":1.0,"f":1.0},"form":{},"home_shift":null,"confusions":[{"bar":2,"played":"5/7","written":"1","share":0.5},{"bar":4,"played":"4","written":"2-","share":1.0}],"advice":["Bar 4: 4 and 2- share two tones."]}');
INSERT INTO "papers" VALUES(3,'1 1 6- 2-','{"score":0.625,"bars":[{"reference":1,"answer":1,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"strict":1.0},{"reference":2,"answer":2,"score":0.5,"root":0.5,"quality":0.5,"bass":0.5,"placement":0.5,"articulation":0.5,"strict":0.5},{"reference":3,"answer":3,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"strict":1.0},{"reference":4,"answer":4,"score":0.0,"root":0.0,"quality":0.0,"bass":0.0,"placement":0.0,"articulation":0.0,"strict":0.0}],"phrases":{"precision":1.0,"recall":1.0,"f":1.0},"form":{},"home_shift":null,"confusions":[{"bar":2,"played":"5/7","written":"1","share":0.5},{"bar":4,"played":"4","written":"2-","share":1.0}],"advice":["Bar 4: 4 and 2- share two tones."]}');
INSERT INTO "papers" VALUES(4,'1 1 6- 2-','{"score":0.625,"bars":[{"reference":1,"answer":1,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"strict":1.0},{"reference":2,"answer":2,"score":0.5,"root":0.5,"quality":0.5,"bass":0.5,"placement":0.5,"articulation":0.5,"strict":0.5},{"reference":3,"answer":3,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"strict":1.0},{"reference":4,"answer":4,"score":0.0,"root":0.0,"quality":0.0,"bass":0.0,"placement":0.0,"articulation":0.0,"strict":0.0}],"phrases":{"precision":1.0,"recall":1.0,"f":1.0},"form":{},"home_shift":null,"confusions":[{"bar":2,"played":"5/7","written":"1","share":0.5},{"bar":4,"played":"4","written":"2-","share":1.0}],"advice":["Bar 4: 4 and 2- share two tones."]}');
INSERT INTO "papers" VALUES(5,'1 1 6- 2-','{"score":0.625,"bars":[{"reference":1,"answer":1,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"strict":1.0},{"reference":2,"answer":2,"score":0.5,"root":0.5,"quality":0.5,"bass":0.5,"placement":0.5,"articulation":0.5,"strict":0.5},{"reference":3,"answer":3,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"strict":1.0},{"reference":4,"answer":4,"score":0.0,"root":0.0,"quality":0.0,"bass":0.0,"placement":0.0,"articulation":0.0,"strict":0.0}],"phrases":{"precision":1.0,"recall":1.0,"f":1.0},"form":{},"home_shift":null,"confusions":[{"bar":2,"played":"5/7","written":"1","share":0.5},{"bar":4,"played":"4","written":"2-","share":1.0}],"advice":["Bar 4: 4 and 2- share two tones."]}');
INSERT INTO "papers" VALUES(6,'1 1 6- 2-','{"score":0.625,"bars":[{"reference":1,"answer":1,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"strict":1.0},{"reference":2,"answer":2,"score":0.5,"root":0.5,"quality":0.5,"bass":0.5,"placement":0.5,"articulation":0.5,"strict":0.5},{"reference":3,"answer":3,"score":1.0,"root":1.0,"quality":1.0,"bass":1.0,"placement":1.0,"articulation":1.0,"strict":1.0},{"reference":4,"answer":4,"score":0.0,"root":0.0,"quality":0.0,"bass":0.0,"placement":0.0,"articulation":0.0,"strict":0.0}],"phrases":{"precision":1.0,"recall":1.0,"f":1.0},"form":{},"home_shift":null,"confusions":[{"bar":2,"played":"5/7","written":"1","share":0.5},{"bar":4,"played":"4","written":"2-","share":1.0}],"advice":["Bar 4: 4 and 2- share two tones."]}');
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
INSERT INTO "practice_states" VALUES(1,1,3,'2026-03-05 19:30:00.000000',-2.88043721573312483386e-01,2.52521225044051167429e-01,'[[0.5189033315010136,0.037702647133701826],[0.4,0.04],[0.3,0.04],[0.2,0.04],[0.4972397574275458,0.03993090603775108],[0.49098061265178644,0.039262168298248426],[0.592393000477236,0.03947517932747392],[0.4,0.04],[0.2954174761831824,0.0398095569896355],[0.8360757283273987,0.09937454155200816]]');
INSERT INTO "practice_states" VALUES(2,1,3,'2026-03-05 19:30:00.000000',-2.88043721573312483386e-01,2.52521225044051167429e-01,'[[0.5189033315010136,0.037702647133701826],[0.4,0.04],[0.3,0.04],[0.2,0.04],[0.4972397574275458,0.03993090603775108],[0.49098061265178644,0.039262168298248426],[0.592393000477236,0.03947517932747392],[0.4,0.04],[0.2954174761831824,0.0398095569896355],[0.8360757283273987,0.09937454155200816]]');
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
INSERT INTO "rating_days" VALUES(1,'2026-03-03','chord 1',1.05204158141319847885e+00,1.11870006212043637816e+00);
INSERT INTO "rating_days" VALUES(1,'2026-03-03','chord 4',-2.53101065131348335057e-01,1.13574504774488937997e+00);
INSERT INTO "rating_days" VALUES(1,'2026-03-03','chord 5',-2.80991675648370464735e-02,1.13941388621282824189e+00);
INSERT INTO "rating_days" VALUES(1,'2026-03-03','chord 6-',-1.1619756119989524401e-01,1.12786441967794681673e+00);
INSERT INTO "rating_days" VALUES(1,'2026-03-03','even split',-4.53695082985667852426e-01,1.13169795688922869558e+00);
INSERT INTO "rating_days" VALUES(1,'2026-03-04','chord 1',1.24527577525454047346e+00,8.18256787731186374656e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-04','chord 4',-4.94212235731180893338e-01,8.48361781668637848774e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-04','chord 5',-2.32638246040309470963e-01,8.52781939493011620356e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-04','chord 6-',7.37972186094200122141e-02,8.43360136748557809305e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-04','even split',-3.82511873073067221184e-01,8.4998112599466024708e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-05','chord 1',1.40168229581342851375e+00,6.75422591105777070374e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-05','chord 4',-6.81647701278447204487e-01,0.708691534654512);
INSERT INTO "rating_days" VALUES(1,'2026-03-05','chord 5',-3.92752399699591858706e-01,7.14904711374492185527e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-05','chord 6-',0.234193359594419,7.072748435958451374e-01);
INSERT INTO "rating_days" VALUES(1,'2026-03-05','even split',-3.26435621741281045693e-01,7.12906106558267804729e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-03','chord 1',1.05204158141319847885e+00,1.11870006212043637816e+00);
INSERT INTO "rating_days" VALUES(2,'2026-03-03','chord 4',-2.53101065131348335057e-01,1.13574504774488937997e+00);
INSERT INTO "rating_days" VALUES(2,'2026-03-03','chord 5',-2.80991675648370464735e-02,1.13941388621282824189e+00);
INSERT INTO "rating_days" VALUES(2,'2026-03-03','chord 6-',-1.1619756119989524401e-01,1.12786441967794681673e+00);
INSERT INTO "rating_days" VALUES(2,'2026-03-03','even split',-4.53695082985667852426e-01,1.13169795688922869558e+00);
INSERT INTO "rating_days" VALUES(2,'2026-03-04','chord 1',1.24527577525454047346e+00,8.18256787731186374656e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-04','chord 4',-4.94212235731180893338e-01,8.48361781668637848774e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-04','chord 5',-2.32638246040309470963e-01,8.52781939493011620356e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-04','chord 6-',7.37972186094200122141e-02,8.43360136748557809305e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-04','even split',-3.82511873073067221184e-01,8.4998112599466024708e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-05','chord 1',1.40168229581342851375e+00,6.75422591105777070374e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-05','chord 4',-6.81647701278447204487e-01,0.708691534654512);
INSERT INTO "rating_days" VALUES(2,'2026-03-05','chord 5',-3.92752399699591858706e-01,7.14904711374492185527e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-05','chord 6-',0.234193359594419,7.072748435958451374e-01);
INSERT INTO "rating_days" VALUES(2,'2026-03-05','even split',-3.26435621741281045693e-01,7.12906106558267804729e-01);
CREATE TABLE seats (
	learner_id INTEGER NOT NULL, 
	exercise_id VARCHAR(200) NOT NULL, 
	token VARCHAR(80) NOT NULL, 
	started_at DATETIME NOT NULL, 
	speeds JSON NOT NULL, 
	worked_s FLOAT NOT NULL, 
	seen_at DATETIME NOT NULL, 
	CONSTRAINT pk_seats PRIMARY KEY (learner_id, exercise_id), 
	CONSTRAINT fk_seats_learner_id_learners FOREIGN KEY(learner_id) REFERENCES learners (id) ON DELETE CASCADE, 
	CONSTRAINT fk_seats_exercise_id_exercises FOREIGN KEY(exercise_id) REFERENCES exercises (id)
);
INSERT INTO "seats" VALUES(1,'millrace-3','Wren Halloway''s next','2026-03-02 19:30:00.000000','[80]',0.0,'2026-03-02 19:30:00.000000');
INSERT INTO "seats" VALUES(2,'millrace-3','Zoë Ångström''s next','2026-03-02 19:30:00.000000','[80]',0.0,'2026-03-02 19:30:00.000000');
CREATE TABLE set_items (
	id INTEGER NOT NULL, 
	learner_id INTEGER NOT NULL, 
	day DATE NOT NULL, 
	number INTEGER NOT NULL, 
	position INTEGER NOT NULL, 
	kind VARCHAR(20) NOT NULL, 
	skills JSON NOT NULL, 
	reason TEXT NOT NULL, 
	status VARCHAR(20) NOT NULL, 
	exercise_id VARCHAR(200), 
	expected FLOAT, 
	minutes FLOAT, 
	changed_at DATETIME NOT NULL, 
	CONSTRAINT pk_set_items PRIMARY KEY (id), 
	CONSTRAINT fk_set_items_exercise_id_exercises FOREIGN KEY(exercise_id) REFERENCES exercises (id), 
	CONSTRAINT fk_set_items_learner_id_learners FOREIGN KEY(learner_id) REFERENCES learners (id) ON DELETE CASCADE, 
	CONSTRAINT uq_set_items_learner_id_day_number_position UNIQUE (learner_id, day, number, position)
);
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
INSERT INTO "skill_days" VALUES(1,'2026-03-03','chord 1',2,1.5,1);
INSERT INTO "skill_days" VALUES(1,'2026-03-03','chord 4',1,0.0,0);
INSERT INTO "skill_days" VALUES(1,'2026-03-03','chord 5',1,0.5,0);
INSERT INTO "skill_days" VALUES(1,'2026-03-03','chord 6-',1,1.0,1);
INSERT INTO "skill_days" VALUES(1,'2026-03-03','even split',1,0.5,0);
INSERT INTO "skill_days" VALUES(1,'2026-03-04','chord 1',2,1.5,1);
INSERT INTO "skill_days" VALUES(1,'2026-03-04','chord 4',1,0.0,0);
INSERT INTO "skill_days" VALUES(1,'2026-03-04','chord 5',1,0.5,0);
INSERT INTO "skill_days" VALUES(1,'2026-03-04','chord 6-',1,1.0,1);
INSERT INTO "skill_days" VALUES(1,'2026-03-04','even split',1,0.5,0);
INSERT INTO "skill_days" VALUES(1,'2026-03-05','chord 1',2,1.5,1);
INSERT INTO "skill_days" VALUES(1,'2026-03-05','chord 4',1,0.0,0);
INSERT INTO "skill_days" VALUES(1,'2026-03-05','chord 5',1,0.5,0);
INSERT INTO "skill_days" VALUES(1,'2026-03-05','chord 6-',1,1.0,1);
INSERT INTO "skill_days" VALUES(1,'2026-03-05','even split',1,0.5,0);
INSERT INTO "skill_days" VALUES(2,'2026-03-03','chord 1',2,1.5,1);
INSERT INTO "skill_days" VALUES(2,'2026-03-03','chord 4',1,0.0,0);
INSERT INTO "skill_days" VALUES(2,'2026-03-03','chord 5',1,0.5,0);
INSERT INTO "skill_days" VALUES(2,'2026-03-03','chord 6-',1,1.0,1);
INSERT INTO "skill_days" VALUES(2,'2026-03-03','even split',1,0.5,0);
INSERT INTO "skill_days" VALUES(2,'2026-03-04','chord 1',2,1.5,1);
INSERT INTO "skill_days" VALUES(2,'2026-03-04','chord 4',1,0.0,0);
INSERT INTO "skill_days" VALUES(2,'2026-03-04','chord 5',1,0.5,0);
INSERT INTO "skill_days" VALUES(2,'2026-03-04','chord 6-',1,1.0,1);
INSERT INTO "skill_days" VALUES(2,'2026-03-04','even split',1,0.5,0);
INSERT INTO "skill_days" VALUES(2,'2026-03-05','chord 1',2,1.5,1);
INSERT INTO "skill_days" VALUES(2,'2026-03-05','chord 4',1,0.0,0);
INSERT INTO "skill_days" VALUES(2,'2026-03-05','chord 5',1,0.5,0);
INSERT INTO "skill_days" VALUES(2,'2026-03-05','chord 6-',1,1.0,1);
INSERT INTO "skill_days" VALUES(2,'2026-03-05','even split',1,0.5,0);
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
INSERT INTO "skill_states" VALUES(1,'chord 1',0.489726017386741,4.22901366061725902945e-01,6,6.0,2,NULL,1.19910261833261948542e+01,2.10433139084644826866e+00,'2026-03-17 19:30:00.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(1,'chord 4',-7.93603979705134743305e-01,4.56170309610460789073e-01,3,0.0,1,0,5.50345301183310375847e-02,9.59286876533969312674e+00,'2026-03-05 19:31:00.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(1,'chord 5',-7.04708678126279353115e-01,4.62383486330440962586e-01,3,0.0,1,0,5.50345301183310375847e-02,9.59286876533969312674e+00,'2026-03-05 19:31:00.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(1,'chord 6-',5.22237081167731487241e-01,4.5475361855179396997e-01,3,3.0,2,NULL,1.19910261833261948542e+01,2.10433139084644826866e+00,'2026-03-17 19:30:00.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(1,'even split',1.61608099832031421039e-01,4.60384881514216637299e-01,3,1.5,1,0,4.68264228326033471461e+00,7.82139349799879735058e+00,'2026-03-05 19:35:30.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(2,'chord 1',0.489726017386741,4.22901366061725902945e-01,6,6.0,2,NULL,1.19910261833261948542e+01,2.10433139084644826866e+00,'2026-03-17 19:30:00.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(2,'chord 4',-7.93603979705134743305e-01,4.56170309610460789073e-01,3,0.0,1,0,5.50345301183310375847e-02,9.59286876533969312674e+00,'2026-03-05 19:31:00.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(2,'chord 5',-7.04708678126279353115e-01,4.62383486330440962586e-01,3,0.0,1,0,5.50345301183310375847e-02,9.59286876533969312674e+00,'2026-03-05 19:31:00.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(2,'chord 6-',5.22237081167731487241e-01,4.5475361855179396997e-01,3,3.0,2,NULL,1.19910261833261948542e+01,2.10433139084644826866e+00,'2026-03-17 19:30:00.000000','2026-03-05 19:30:00.000000');
INSERT INTO "skill_states" VALUES(2,'even split',1.61608099832031421039e-01,4.60384881514216637299e-01,3,1.5,1,0,4.68264228326033471461e+00,7.82139349799879735058e+00,'2026-03-05 19:35:30.000000','2026-03-05 19:30:00.000000');
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
CREATE INDEX ix_attempts_exercise_id ON attempts (exercise_id);
CREATE INDEX ix_attempts_learner_id_day ON attempts (learner_id, day);
CREATE INDEX ix_attempts_learner_id_finished_at_id ON attempts (learner_id, finished_at, id);
CREATE INDEX ix_attempts_learner_id_level_finished_at_id_score ON attempts (learner_id, level, finished_at, id, score);
CREATE INDEX ix_speed_results_learner_id ON speed_results (learner_id);
CREATE INDEX ix_set_items_exercise_id ON set_items (exercise_id);
COMMIT;
