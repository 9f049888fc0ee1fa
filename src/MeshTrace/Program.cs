using MeshTrace.Commands;

return new Application(Surroundings.OfProcess()).Run(args);
