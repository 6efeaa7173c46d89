BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0001');
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
	token VARCHAR(80), 
	CONSTRAINT pk_attempts PRIMARY KEY (id), 
	CONSTRAINT fk_attempts_exercise_id_exercises FOREIGN KEY(exercise_id) REFERENCES exercises (id), 
	CONSTRAINT fk_attempts_learner_id_learners FOREIGN KEY(learner_id) REFERENCES learners (id) ON DELETE CASCADE, 
	CONSTRAINT uq_attempts_learner_id_token UNIQUE (learner_id, token)
);
INSERT INTO "attempts" VALUES(1,1,'millrace-1',1,'2026-03-03 19:28:00.000000','2026-03-03 19:30:00.000000','2026-03-03',120.0,0.625,4,1,0,1.0,0,2.0,'0.1.0','t1');
INSERT INTO "attempts" VALUES(2,1,'millrace-2',2,'2026-03-04 19:28:00.000000','2026-03-04 19:30:00.000000','2026-03-04',120.0,0.625,4,1,0,1.0,0,2.0,'0.1.0','t2');
INSERT INTO "attempts" VALUES(3,1,'millrace-3',3,'2026-03-05 19:28:00.000000','2026-03-05 19:30:00.000000','2026-03-05',120.0,0.625,4,1,0,1.0,0,2.0,'0.1.0','t3');
INSERT INTO "attempts" VALUES(4,2,'millrace-1',1,'2026-03-03 19:28:00.000000','2026-03-03 19:30:00.000000','2026-03-03',120.0,0.625,4,1,0,1.0,0,2.0,'0.1.0','t1');
INSERT INTO "attempts" VALUES(5,2,'millrace-2',2,'2026-03-04 19:28:00.000000','2026-03-04 19:30:00.000000','2026-03-04',120.0,0.625,4,1,0,1.0,0,2.0,'0.1.0','t2');
INSERT INTO "attempts" VALUES(6,2,'millrace-3',3,'2026-03-05 19:28:00.000000','2026-03-05 19:30:00.000000','2026-03-05',120.0,0.625,4,1,0,1.0,0,2.0,'0.1.0','t3');
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
	skills JSON NOT NULL, 
	CONSTRAINT pk_bar_results PRIMARY KEY (attempt_id, position), 
	CONSTRAINT fk_bar_results_attempt_id_attempts FOREIGN KEY(attempt_id) REFERENCES attempts (id) ON DELETE CASCADE
)
 WITHOUT ROWID

;
INSERT INTO "bar_results" VALUES(1,1,1,1,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,1.0,'1','1','[]','["chord 1"]');
INSERT INTO "bar_results" VALUES(1,2,2,2,0.5,0.5,0.5,0.5,0.5,0.5,NULL,NULL,0.5,NULL,'1_5/7','1','[["5/7","1"]]','["chord 1","chord 5","even split"]');
INSERT INTO "bar_results" VALUES(1,3,3,3,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,3.0,'6-','6-','[]','["chord 6-"]');
INSERT INTO "bar_results" VALUES(1,4,4,4,0.0,0.0,0.0,0.0,0.0,0.0,NULL,NULL,0.0,NULL,'4','2-','[["4","2-"]]','["chord 4"]');
INSERT INTO "bar_results" VALUES(2,1,1,1,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,1.0,'1','1','[]','["chord 1"]');
INSERT INTO "bar_results" VALUES(2,2,2,2,0.5,0.5,0.5,0.5,0.5,0.5,NULL,NULL,0.5,NULL,'1_5/7','1','[["5/7","1"]]','["chord 1","chord 5","even split"]');
INSERT INTO "bar_results" VALUES(2,3,3,3,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,3.0,'6-','6-','[]','["chord 6-"]');
INSERT INTO "bar_results" VALUES(2,4,4,4,0.0,0.0,0.0,0.0,0.0,0.0,NULL,NULL,0.0,NULL,'4','2-','[["4","2-"]]','["chord 4"]');
INSERT INTO "bar_results" VALUES(3,1,1,1,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,1.0,'1','1','[]','["chord 1"]');
INSERT INTO "bar_results" VALUES(3,2,2,2,0.5,0.5,0.5,0.5,0.5,0.5,NULL,NULL,0.5,NULL,'1_5/7','1','[["5/7","1"]]','["chord 1","chord 5","even split"]');
INSERT INTO "bar_results" VALUES(3,3,3,3,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,3.0,'6-','6-','[]','["chord 6-"]');
INSERT INTO "bar_results" VALUES(3,4,4,4,0.0,0.0,0.0,0.0,0.0,0.0,NULL,NULL,0.0,NULL,'4','2-','[["4","2-"]]','["chord 4"]');
INSERT INTO "bar_results" VALUES(4,1,1,1,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,1.0,'1','1','[]','["chord 1"]');
INSERT INTO "bar_results" VALUES(4,2,2,2,0.5,0.5,0.5,0.5,0.5,0.5,NULL,NULL,0.5,NULL,'1_5/7','1','[["5/7","1"]]','["chord 1","chord 5","even split"]');
INSERT INTO "bar_results" VALUES(4,3,3,3,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,3.0,'6-','6-','[]','["chord 6-"]');
INSERT INTO "bar_results" VALUES(4,4,4,4,0.0,0.0,0.0,0.0,0.0,0.0,NULL,NULL,0.0,NULL,'4','2-','[["4","2-"]]','["chord 4"]');
INSERT INTO "bar_results" VALUES(5,1,1,1,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,1.0,'1','1','[]','["chord 1"]');
INSERT INTO "bar_results" VALUES(5,2,2,2,0.5,0.5,0.5,0.5,0.5,0.5,NULL,NULL,0.5,NULL,'1_5/7','1','[["5/7","1"]]','["chord 1","chord 5","even split"]');
INSERT INTO "bar_results" VALUES(5,3,3,3,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,3.0,'6-','6-','[]','["chord 6-"]');
INSERT INTO "bar_results" VALUES(5,4,4,4,0.0,0.0,0.0,0.0,0.0,0.0,NULL,NULL,0.0,NULL,'4','2-','[["4","2-"]]','["chord 4"]');
INSERT INTO "bar_results" VALUES(6,1,1,1,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,1.0,'1','1','[]','["chord 1"]');
INSERT INTO "bar_results" VALUES(6,2,2,2,0.5,0.5,0.5,0.5,0.5,0.5,NULL,NULL,0.5,NULL,'1_5/7','1','[["5/7","1"]]','["chord 1","chord 5","even split"]');
INSERT INTO "bar_results" VALUES(6,3,3,3,1.0,1.0,1.0,1.0,1.0,1.0,NULL,NULL,1.0,3.0,'6-','6-','[]','["chord 6-"]');
INSERT INTO "bar_results" VALUES(6,4,4,4,0.0,0.0,0.0,0.0,0.0,0.0,NULL,NULL,0.0,NULL,'4','2-','[["4","2-"]]','["chord 4"]');
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
CREATE INDEX ix_attempts_exercise_id ON attempts (exercise_id);
CREATE INDEX ix_attempts_learner_id_day ON attempts (learner_id, day);
CREATE INDEX ix_attempts_learner_id_finished_at_id ON attempts (learner_id, finished_at, id);
CREATE INDEX ix_attempts_learner_id_level_finished_at_id_score ON attempts (learner_id, level, finished_at, id, score);
COMMIT;
