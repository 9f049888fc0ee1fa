using System.Runtime.InteropServices;
using MeshTrace.Analysis.Repeats;

namespace MeshTrace.Analysis.Floods;

/// <summary>
/// Decides which node uses an advertiser address, from the roles in which it was heard. The originator's copy has a TTL that no relay's copy of the
/// same flood has; what has to be told apart is a relay whose originator was never heard.
/// </summary>
internal sealed class AddressOwners(FloodStreams streams, SenderEvidence evidence, RadioSettings settings)
{
    /// <summary>Of an owner's own floods, so many may show the address as a relay: the address changed, or a node takes part twice (threshold ours).</summary>
    private const double MostAgainst = 0.1;

    /// <summary>More addresses than one at the highest TTL, in so many of a node's floods, are relays of an originator not heard (threshold ours).</summary>
    private const double MostShared = 0.25;

    /// <summary>Of the floods that speak for several nodes, so many must be of one (threshold ours).</summary>
    private const double ClearMajority = 0.8, OverwhelmingMajority = 0.9;

    /// <summary>Floods from which on a role is a habit and no chance (threshold ours).</summary>
    private const int Habit = 3, LongHabit = 10;

    /// <summary>Floods of others that a relay would have relayed while the address was in use (threshold ours).</summary>
    private const int EnoughOfOthers = 20;

    /// <summary>Readings of one sender's strength agree within this, those of two places seldom do (common practice: an accuracy of 6 dB, no source).</summary>
    private const double SameStrengthDb = 6, OtherPlaceDb = 12;

    private readonly List<Candidate> _candidates = [];

    /// <summary>By node: its place among the candidates, + 1; 0 where it is none.</summary>
    private readonly int[] _places = new int[streams.Nodes];
    private readonly int[] _nodeTtl = new int[streams.Nodes];

    /// <summary>The TTL that most nodes were heard to send with, and how many did.</summary>
    public (int Ttl, int Nodes) UsualTtl { get; private set; }

    /// <summary>The highest TTL heard of any node.</summary>
    public int HighestTtl { get; private set; }

    public int[] Owner { get; } = new int[evidence.Advertisers.Count];
    public SenderConfidence[] Confidence { get; } = new SenderConfidence[evidence.Advertisers.Count];

    /// <summary>By address: it is a relay's, whoever that is.</summary>
    public bool[] Relays { get; } = new bool[evidence.Advertisers.Count];

    public void Decide()
    {
        MarkSharedStreams();
        FindUsualTtl();
        DecideAll();
        if (MarkRelayedStreams())
        {
            FindUsualTtl();
            DecideAll();        // an original TTL now known to be higher takes the ground from guesses
        }
        CompareStrength();
        NoteOriginalsHeard();
    }

    private void DecideAll()
    {
        for (int advertiser = 0; advertiser < Owner.Length; advertiser++)
            (Owner[advertiser], Confidence[advertiser]) = DecideOne(advertiser);
    }

    private (int Node, SenderConfidence Confidence) DecideOne(int advertiser)
    {
        Collect(advertiser, out int low);
        Relays[advertiser] = low >= Habit;
        Candidate best = default, second = default;
        int fitting = 0, known = 0, guess = 0;
        foreach (Candidate candidate in _candidates)
        {
            if (!Fits(in candidate, low))
                continue;
            fitting++;
            known += candidate.Known;
            guess += candidate.Guess;
            if (fitting == 1 || candidate.Outranks(in best))
                (best, second) = (candidate, best);
            else if (fitting == 2 || candidate.Outranks(in second))
                second = candidate;
        }
        if (fitting == 0)
            return IsOnlyOnesFloods(advertiser, low) ? (_candidates[0].Node, SenderConfidence.Likely) : default;
        if (best.Known > 0)
        {
            bool clear = best.Known >= ClearMajority * known && (2 * best.Known >= guess - best.Guess || best.Known >= LongHabit);
            return (best.Node, clear ? SenderConfidence.Likely : SenderConfidence.Unknown);
        }
        if (fitting > 1)
            return DecideByTtl(in best, in second, guess);
        bool likely = HasStartingTtl(in best, low) || IsOnlyOnesFloods(advertiser, low);
        return (best.Node, likely ? SenderConfidence.Likely : SenderConfidence.Possible);
    }

    /// <summary>The floods of one node in which the address was heard, over all streams.</summary>
    private void Collect(int advertiser, out int low)
    {
        foreach (ref readonly Candidate before in CollectionsMarshal.AsSpan(_candidates))
            _places[before.Node] = 0;
        _candidates.Clear();
        low = 0;
        for (int at = evidence.FirstRoleOf(advertiser); at >= 0; at = evidence.RoleAt(at).Next)
        {
            ref Role role = ref evidence.RoleAt(at);
            ref FloodStream stream = ref streams[role.Stream];
            ref int place = ref _places[stream.Node];
            if (place == 0)
            {
                _candidates.Add(new Candidate { Node = stream.Node });
                place = _candidates.Count;
            }
            ref Candidate candidate = ref CollectionsMarshal.AsSpan(_candidates)[place - 1];
            bool refuted = role.HighestTtl <= stream.HighestRelayed && role.HighestTtl > 0;
            candidate.Known += role.Known;
            candidate.Guess += refuted ? 0 : role.Guess;
            candidate.Below += role.Below + (refuted ? role.Guess : 0);
            candidate.Shared += role.Shared;
            candidate.Low += role.Low;
            if (role.Known > 0 || (role.Guess > 0 && !refuted))
                candidate.HighestTtl = Math.Max(candidate.HighestTtl, role.HighestTtl);
            low += role.Low;
        }
    }

    private bool Fits(in Candidate candidate, int low)
    {
        int own = candidate.Known + candidate.Guess;
        if (own == 0 || candidate.Low > MostAgainst * own || candidate.Shared > MostShared * (own + candidate.Shared))
            return false;
        return low < Habit || !settings.NeverRelays(streams.NodeAt(candidate.Node));
    }

    /// <summary>No setting tells the TTL of the one node that fits: it must be one with which others start, not one that relays are left with.</summary>
    private bool HasStartingTtl(in Candidate candidate, int low)
    {
        bool usual = candidate.HighestTtl >= UsualTtl.Ttl && UsualTtl.Nodes >= Habit;
        bool pure = low == 0 && candidate.Below == 0 && candidate.HighestTtl >= UsualTtl.Ttl;
        return candidate.Guess >= Habit && (usual || pure);
    }

    /// <summary>
    /// Several nodes fit: the address relays what was not heard from its originators, or the other way round. Copies of relays have less than the TTL
    /// that the nodes of this network mostly start with.
    /// </summary>
    private (int Node, SenderConfidence Confidence) DecideByTtl(in Candidate best, in Candidate second, int guess)
    {
        Candidate usual = default;
        int atUsual = 0;
        foreach (Candidate candidate in _candidates)
        {
            if (candidate.Known + candidate.Guess == 0 || candidate.HighestTtl != UsualTtl.Ttl)
                continue;
            atUsual++;
            usual = candidate;
        }
        if (atUsual == 1 && UsualTtl.Nodes >= Habit && usual.Guess >= Habit && 2 * usual.Guess >= guess)
            return (usual.Node, SenderConfidence.Likely);
        return best.Guess >= LongHabit && best.Guess >= OverwhelmingMajority * guess && best.HighestTtl > second.HighestTtl
            ? (best.Node, SenderConfidence.Likely)
            : (best.Node, SenderConfidence.Unknown);
    }

    /// <summary>
    /// Heard in the floods of one node only, alone at their highest TTL, while others sent a lot: a relay would have relayed those too. So it is the
    /// node itself, whatever its TTL and whatever the settings say of it.
    /// </summary>
    private bool IsOnlyOnesFloods(int advertiser, int low)
    {
        if (low > 0 || _candidates is not [{ Shared: 0 } only])
            return false;
        int own = only.Known + only.Guess + only.Below;
        return own >= Habit && evidence.FloodsDuring(advertiser) - own >= EnoughOfOthers;
    }

    private void FindUsualTtl()
    {
        Array.Clear(_nodeTtl);
        for (int row = 0; row < streams.Count; row++)
        {
            ref FloodStream stream = ref streams[row];
            if (stream.HighestHeard > stream.HighestRelayed)
                _nodeTtl[stream.Node] = Math.Max(_nodeTtl[stream.Node], stream.HighestHeard);
        }
        Span<int> nodes = stackalloc int[128];
        nodes.Clear();
        foreach (int ttl in _nodeTtl)
            if (ttl > 0)
                nodes[ttl]++;
        HighestTtl = nodes.LastIndexOfAnyExcept(0);
        UsualTtl = default;
        for (int ttl = 0; ttl < nodes.Length; ttl++)
            if (nodes[ttl] > 0 && nodes[ttl] >= UsualTtl.Nodes)
                UsualTtl = (ttl, nodes[ttl]);
    }

    /// <summary>Several addresses at the highest TTL again and again: none of them is the originator. Now and then an address just changed.</summary>
    private void MarkSharedStreams()
    {
        for (int row = 0; row < streams.Count; row++)
        {
            ref FloodStream stream = ref streams[row];
            if (stream.SharedAtHighest > MostShared * (stream.SharedAtHighest + stream.AloneAtHighest))
                stream.HighestRelayed = stream.HighestHeard;
        }
    }

    /// <summary>A copy at the highest TTL by the address of another node was relayed: the stream starts higher.</summary>
    private bool MarkRelayedStreams()
    {
        bool any = false;
        for (int advertiser = 0; advertiser < Owner.Length; advertiser++)
        {
            if (Confidence[advertiser] != SenderConfidence.Likely)
                continue;
            for (int at = evidence.FirstRoleOf(advertiser); at >= 0; at = evidence.RoleAt(at).Next)
            {
                ref Role role = ref evidence.RoleAt(at);
                ref FloodStream stream = ref streams[role.Stream];
                if (stream.Node == Owner[advertiser] || role.HighestTtl <= stream.HighestRelayed)
                    continue;
                stream.HighestRelayed = role.HighestTtl;
                any = true;
            }
        }
        return any;
    }

    /// <summary>What is merely possible becomes likely where the strength is that of the node's other addresses, and falls where it is far from it.</summary>
    private void CompareStrength()
    {
        var sums = new Dictionary<(int Node, int Receiver), (double Sum, int Count)>();
        for (int advertiser = 0; advertiser < Owner.Length; advertiser++)
        {
            if (Confidence[advertiser] != SenderConfidence.Likely || evidence.RssiOf(advertiser) is not { } rssi)
                continue;
            var key = (Owner[advertiser], evidence.RssiReceiverOf(advertiser));
            (double sum, int count) = sums.GetValueOrDefault(key);
            sums[key] = (sum + rssi, count + 1);
        }
        for (int advertiser = 0; advertiser < Owner.Length; advertiser++)
        {
            if (Confidence[advertiser] != SenderConfidence.Possible || evidence.RssiOf(advertiser) is not { } rssi
                || !sums.TryGetValue((Owner[advertiser], evidence.RssiReceiverOf(advertiser)), out (double Sum, int Count) usual))
                continue;
            double apart = Math.Abs(rssi - (usual.Sum / usual.Count));
            if (apart > OtherPlaceDb)
                Confidence[advertiser] = SenderConfidence.Unknown;
            else if (apart <= SameStrengthDb && _nodeTtl[Owner[advertiser]] >= UsualTtl.Ttl)
                Confidence[advertiser] = SenderConfidence.Likely;
        }
    }

    private void NoteOriginalsHeard()
    {
        for (int advertiser = 0; advertiser < Owner.Length; advertiser++)
        {
            if (Confidence[advertiser] != SenderConfidence.Likely)
                continue;
            for (int at = evidence.FirstRoleOf(advertiser); at >= 0; at = evidence.RoleAt(at).Next)
            {
                ref Role role = ref evidence.RoleAt(at);
                ref FloodStream stream = ref streams[role.Stream];
                if (stream.Node == Owner[advertiser] && role.Known + role.Guess > 0)
                    stream.HeardOriginal = stream.HeardOriginal == FloodStreams.NotHeard ? role.HighestTtl : Math.Max(stream.HeardOriginal, role.HighestTtl);
            }
        }
    }

    /// <summary>A node that may use the address, with what speaks for and against it.</summary>
    private struct Candidate
    {
        public int Node, Known, Guess, Below, Shared, Low;
        public byte HighestTtl;

        public readonly bool Outranks(in Candidate other) => Known != other.Known ? Known > other.Known : Guess > other.Guess;
    }
}
